//! The board: what forward is doing now, how old that news is, what waits for consent.

use super::cable::CablePanel;
use super::card::RunCardView;
use super::holds::{Holds, Questions};
use super::server::ServerStands;
use super::watch::WatchLine;
use crate::parts::{Age, Defect, DefectCard, Empty, LightSwitch, StatusWord, Tone};
use crate::port::{LinkCommand, MediaCommand, Source, SystemCommand, UnlockView, device, source};
use crate::run_links::{defect_weight, name_in};
use crate::seconds::{wanted_lines, wanted_list};
use crate::ship::trouble::trouble_view;
use crate::unlock_sheet::PersonMark;
use crate::words::roll as roll_words;
use crate::{time, words};
use journal::Board;
use journal::address;
use journal::board::DeviceCard;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use std::collections::BTreeSet;

/// Returns seconds from `then` to now by this device's clock; none if never.
fn seconds_since(now_ms: i64, then_ms: Option<i64>) -> Option<u64> {
    then_ms.map(|then| u64::try_from((now_ms - then) / 1000).unwrap_or(0))
}

/// Silence after which the board is said to be cut off, s: eight of the server's beats and a minute more.
const CUT_S: u64 = 120;

/// The board as last heard, and how the page knows the server's time.
#[derive(Debug, Clone, Copy)]
pub struct Heard {
    /// The board; none before the first.
    pub board: Signal<Option<Board>>,
    /// The server's time now, reckoned from when the board was heard, ms UTC.
    pub server_now_ms: Signal<i64>,
}

/// Returns the board that the page shows.
pub fn heard() -> Heard {
    use_context().expect("invariant: the board's page provides it")
}

/// The bridge's page.
#[component]
pub fn BoardPage() -> impl IntoView {
    let device = device();
    let first = Resource::new(|| (), {
        let source: Source = source();
        move |()| {
            let source = source.clone();
            async move { source.get(address::BOARD.at([])).await }
        }
    });
    Effect::new(move |_| {
        device.dispatch(LinkCommand::Watch);
        device.dispatch(SystemCommand::StayAwake(true));
    });
    on_cleanup(move || device.dispatch(SystemCommand::StayAwake(false)));
    view! {
        <Title text=words::BRIDGE />
        <Suspense fallback=|| view! { <Empty head=words::LOADING body="" /> }>
            {move || Suspend::new(async move {
                let first = first.await;
                view! { <Live first /> }
            })}
        </Suspense>
    }
}

/// The board, from the first drawing on.
#[component]
fn Live(first: Result<Board, String>) -> impl IntoView {
    let device = device();
    let (first, why) = match first {
        Ok(board) => (Some(board), None),
        Err(why) => (None, Some(why)),
    };
    let first = StoredValue::new(first);
    let why = StoredValue::new(why);
    let board = Signal::derive(move || device.link.board.get().or_else(|| first.get_value()));
    let server_now_ms = Signal::derive(move || {
        let now = device.system.now_ms.get();
        board.with(|board| {
            let made = board.as_ref().map_or(now, |board| board.now_ms);
            match device.link.board_heard_ms.get() {
                Some(heard) if device.link.board.with(Option::is_some) => {
                    // Beats move the time of hearing on; the board's own time stays.
                    made.max(now - (heard - made).min(0))
                        .max(now - device.link.state.with(|l| l.offset_ms.unwrap_or(0)))
                }
                _ => made,
            }
        })
    });
    provide_context(Heard {
        board,
        server_now_ms,
    });
    let heard_s = Signal::derive(move || {
        let now = device.system.now_ms.get();
        seconds_since(now, device.link.board_heard_ms.get())
    });
    let name = move || {
        board.with(|b| {
            b.as_ref()
                .map(|b| b.vessel.name.clone())
                .unwrap_or_default()
        })
    };
    let due = move || {
        let said = board.with(|board| {
            let vessel = &board.as_ref()?.vessel;
            words::ship::overdue(vessel.overdue, vessel.never_done)
        });
        said.unwrap_or_else(|| words::ROUNDS.to_owned())
    };
    // A consent that is asked for is heard, and seen on a page that lies behind another.
    let asked = Memo::new(move |_| {
        board.with(|board| {
            let open = board.iter().flat_map(|board| &board.open);
            let asked =
                open.flat_map(|card| card.view.holds.iter().map(|hold| (card.run, hold.clone())));
            asked.collect::<BTreeSet<_>>()
        })
    });
    Effect::new(move |before: Option<BTreeSet<_>>| {
        let now = asked.get();
        if before.is_some_and(|before| !now.is_subset(&before)) {
            device.dispatch(MediaCommand::Alert);
        }
        now
    });
    // A board that nobody has heard of for so long is no board: whoever looks at it must know.
    let cut_s = Memo::new(move |_| {
        heard_s
            .get()
            .filter(|silent| *silent >= CUT_S)
            .map(|s| s / 10 * 10)
    });
    Effect::new(move |was: Option<bool>| {
        let is_cut = cut_s.with(Option::is_some);
        if is_cut && was == Some(false) {
            device.dispatch(MediaCommand::Alert);
        }
        is_cut
    });
    let cut = move || {
        let silent_ms = i64::try_from(cut_s.get()?.saturating_mul(1000)).ok()?;
        Some(words::board_cut(&time::span(silent_ms)))
    };
    let asks_pin =
        Memo::new(move |_| device.link.state.with(|link| link.is_unknown) && device.me().is_some());
    let is_mute = Memo::new(move |_| device.system.keeping.with(|keeping| !keeping.sound_ready));
    let title = move || match (cut(), asked.with(BTreeSet::len)) {
        (Some(cut), _) => cut,
        (None, 0) => words::BRIDGE.to_owned(),
        (None, asked) => words::consents_asked(asked),
    };
    view! {
        <Title text=title />
        <div class="bridge">
            <header class="bridge-head">
                <h1>{name}</h1>
                <span class="bridge-time">
                    {move || time::clock(server_now_ms.get())} " " <small class="unit">"UTC"</small>
                </span>
                <Age heard_s />
                <A href="/rounds" attr:class="plan-way">
                    {due}
                </A>
                <A href="/plan" attr:class="plan-way">
                    {words::PLAN}
                </A>
                <A href="/roll" attr:class="plan-way">
                    {roll_words::ROLL_SHORT}
                </A>
                <A href="/bow" attr:class="plan-way">
                    {words::BOW}
                </A>
                <A href="/crew" attr:class="plan-way">
                    {words::CREW}
                </A>
                <A href="/settings" attr:class="plan-way">
                    {words::SETTINGS}
                </A>
                <PersonMark />
                <LightSwitch
                    chosen=device.system.light
                    on_choose=move |light| device.dispatch(SystemCommand::Light(light))
                />
                {move || cut().map(|cut| view! { <p class="bridge-cut" role="alert">{cut}</p> })}
                {move || asks_pin.get().then(|| view! { <AsksPin /> })}
                <WatchLine />
                {move || {
                    is_mute
                        .get()
                        .then(|| {
                            view! {
                                <p class="bridge-mute" role="status">
                                    {words::MUTE_PAGE}
                                </p>
                            }
                        })
                }}
            </header>
            {move || {
                (board.with(Option::is_none) && !asks_pin.get())
                    .then(|| {
                        let why = why.get_value().unwrap_or_default();
                        view! { <Empty head=words::BOARD_UNREACHED body=why /> }
                    })
            }}
            <LogStands />
            <ServerStands />
            <Holds />
            <section class="bridge-runs" aria-label=words::RUNS>
                <Runs />
            </section>
            <aside class="bridge-side">
                <CablePanel />
                <Questions />
                <SecondsOfClosed />
                <super::due::DueLines />
                <Defects />
                <Devices />
            </aside>
        </div>
    }
}

/// That the ship asks who looks: what stands on the board is as last heard, and a PIN brings the news.
#[component]
fn AsksPin() -> impl IntoView {
    let device = device();
    let ask = move |_| {
        let own = device.me().map(|me| UnlockView::Pin(me.device.to_string()));
        device.identity.sheet.set(own);
    };
    view! {
        <div class="bridge-asks" role="alert">
            <p>{words::BOARD_ASKS_PIN}</p>
            <button type="button" class="button is-first" on:click=ask>
                {words::TYPE_PIN}
            </button>
        </div>
    }
}

/// What is wrong with the ship's roll, until a master has read it.
#[component]
fn LogStands() -> impl IntoView {
    let heard = heard();
    let log = Memo::new(move |_| {
        let log = |board: &Board| board.log.clone();
        heard
            .board
            .with(|board| board.as_ref().map(log).unwrap_or_default())
    });
    move || {
        let log = log.get();
        (!log.is_empty()).then(|| {
            view! {
                <section class="bridge-roll">
                    {log.iter().map(trouble_view).collect_view()}
                    <A href="/roll" attr:class="button is-quiet">
                        {roll_words::LOOK}
                    </A>
                </section>
            }
        })
    }
}

#[component]
fn Runs() -> impl IntoView {
    let heard = heard();
    let ids = Memo::new(move |_| {
        heard.board.with(|board| {
            board
                .as_ref()
                .map(|board| board.open.iter().map(|card| card.run).collect::<Vec<_>>())
                .unwrap_or_default()
        })
    });
    let is_known = Memo::new(move |_| heard.board.with(Option::is_some));
    let open_more = move || {
        let more = heard
            .board
            .with(|board| board.as_ref().map_or(0, |board| board.open_more));
        (more > 0).then(|| view! { <p class="quiet">{words::open_more(more)}</p> })
    };
    move || {
        let ids = ids.get();
        if !is_known.get() {
            // Nothing is known: that is not the same as nothing.
            ().into_any()
        } else if ids.is_empty() {
            view! { <Empty head=words::NOTHING_FORWARD body=words::NOTHING_FORWARD_BODY /> }
                .into_any()
        } else {
            ids.into_iter()
                .map(|run| view! { <RunCardView run /> }.into_any())
                .chain(std::iter::once(open_more.into_any()))
                .collect_view()
                .into_any()
        }
    }
}

/// What closed runs lack: those under way say it on their cards.
#[component]
fn SecondsOfClosed() -> impl IntoView {
    let heard = heard();
    let closed = Memo::new(move |_| {
        heard.board.with(|board| {
            let board = board.iter();
            let cards = board.flat_map(|board| {
                let cards = board.closed.iter();
                cards.map(|card| (card.title.clone(), wanted_lines(card, &board.crew)))
            });
            cards
                .filter(|(_, lines)| !lines.is_empty())
                .collect::<Vec<_>>()
        })
    });
    move || {
        let closed = closed.get();
        (!closed.is_empty()).then(|| {
            let run = |(title, lines)| view! { <h3>{title}</h3> {wanted_list(lines)} };
            view! {
                <section class="bridge-seconds">
                    <h2 class="bridge-heading">{words::SECONDS_TO_SIGN}</h2>
                    {closed.into_iter().map(run).collect_view()}
                </section>
            }
        })
    }
}

#[component]
fn Defects() -> impl IntoView {
    let heard = heard();
    let defects = Memo::new(move |_| {
        heard.board.with(|board| {
            let Some(board) = board else {
                return Vec::new();
            };
            // A defect stands in every run that it bears on; here it is one.
            let mut seen = std::collections::BTreeSet::new();
            board
                .open
                .iter()
                .chain(&board.closed)
                .flat_map(|card| card.view.defects.iter().map(move |defect| (card, defect)))
                .filter(|(_, defect)| defect.open && seen.insert(defect.id))
                .map(|(card, defect)| Defect {
                    id: format!("{}", record::RecordId(defect.id)),
                    title: defect.text.clone(),
                    place: card.title.clone(),
                    raised: format!(
                        "{}, {}",
                        name_in(&board.crew, &defect.by),
                        time::date_clock(defect.at_ms)
                    ),
                    // The first line is how it was raised: that is the title.
                    standing: defect
                        .history
                        .iter()
                        .skip(1)
                        .last()
                        .map(|line| line.words.clone())
                        .unwrap_or_default(),
                    severity: defect_weight(defect.severity),
                })
                .collect::<Vec<_>>()
        })
    });
    move || {
        let defects = defects.get();
        (!defects.is_empty()).then(|| {
            view! {
                <section class="bridge-defects">
                    <h2 class="bridge-heading">
                        <A href="/defects">{words::DEFECTS}</A>
                    </h2>
                    {defects
                        .into_iter()
                        .map(|defect| view! { <DefectCard defect /> })
                        .collect_view()}
                </section>
            }
        })
    }
}

#[component]
fn Devices() -> impl IntoView {
    let heard = heard();
    let devices = move || {
        heard.board.with(|board| {
            board
                .as_ref()
                .map(|b| b.devices.clone())
                .unwrap_or_default()
        })
    };
    let line = move |device: DeviceCard| {
        let now = heard.server_now_ms.get();
        let (tone, said) = match device.heard_ms {
            None => (Tone::Calm, words::NOT_HEARD_YET.to_owned()),
            Some(at) if now - at > 60_000 => (
                Tone::Wait,
                words::parts::heard_not_for(&time::span(now - at)),
            ),
            Some(at) => (Tone::Done, words::parts::heard_ago(&time::span(now - at))),
        };
        let clock = device
            .offset_ms
            .filter(|ms| ms.abs() > journal::board::CLOCK_TOLERANCE_MS)
            .map(|ms| {
                let span = time::span(ms.abs());
                let off = if ms > 0 {
                    words::crew::clock_ahead(&span)
                } else {
                    words::crew::clock_behind(&span)
                };
                format!(" · {off}")
            })
            .unwrap_or_default();
        view! {
            <li class="device-line">
                <span>{device.name} ", " {device.rank}</span>
                <StatusWord tone word=format!("{said}{clock}") />
            </li>
        }
    };
    view! {
        <section class="bridge-devices">
            <h2 class="bridge-heading">{words::DEVICES}</h2>
            <ul>{move || devices().into_iter().map(line).collect_view()}</ul>
        </section>
    }
}
