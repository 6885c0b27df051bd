//! The anchor watch: what the server has reckoned, drawn so that it is read at 2 m by day, dusk and night.

mod inputs;
mod keys;
mod line;
mod night;
mod ways;

use crate::parts::status_word::ToneShape;
use crate::parts::{Age, Caution, Empty, LightSwitch, Tone};
use crate::port::{
    Device, LinkCommand, MediaCommand, RecordCommand, Source, SystemCommand, device, source,
};
use crate::unlock_sheet::PersonMark;
use crate::words::anchor as words;
use crate::{time, words as common};
pub use inputs::InputsPage;
use journal::address;
use journal::watch::{AlarmLine, WatchBody, WatchPage, WatchSaid};
use keys::Keys;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
pub use line::WatchLine;
pub use night::NightPage;
use procedure::Role;
use std::collections::BTreeSet;
use ways::Ways;

/// Silence after which the page says that it sees nothing, s: ten of the watch's pages.
const SILENT_S: i64 = 10;
/// Between two soundings of an alarm that nobody has seen, ms.
/// Source: MSC.252(83), from memory: silenced for at most 30 s.
const AGAIN_MS: i64 = 15_000;

/// The watch as it was heard last.
pub type Heard = Signal<Option<WatchPage>>;

/// Puts on record what somebody says of the watch.
pub fn say(device: Device, at_ms: i64, said: WatchSaid) {
    device.dispatch(RecordCommand::Watch(Box::new(WatchBody { at_ms, said })));
}

/// Says whether whoever has the device may say where the anchor lies, and that an alarm is seen.
fn is_officer(device: Device) -> bool {
    let may = |me: crate::port::Me| me.roles.has(Role::Officer) || me.roles.has(Role::Master);
    device.me().is_some_and(may)
}

/// The page.
#[component]
pub fn AnchorWatchPage() -> impl IntoView {
    let first = Resource::new(|| (), {
        let source: Source = source();
        move |()| {
            let source = source.clone();
            async move { source.get(address::WATCH.at([])).await }
        }
    });
    view! {
        <Title text=words::WATCH />
        <Suspense fallback=|| view! { <Empty head=common::LOADING body="" /> }>
            {move || Suspend::new(async move {
                let first = first.await;
                view! { <Live first /> }
            })}
        </Suspense>
    }
}

/// Returns the watch as it is heard, and since how many seconds nothing has come; keeps the stream open meanwhile.
fn listen(device: Device, first: Option<WatchPage>) -> (Heard, Memo<Option<i64>>) {
    Effect::new(move |_| device.dispatch(LinkCommand::AnchorWatch(true)));
    on_cleanup(move || device.dispatch(LinkCommand::AnchorWatch(false)));
    let opened_ms = device.system.now_ms.get_untracked();
    let first = StoredValue::new(first);
    let heard = Signal::derive(move || {
        let live = device.link.anchor_watch.get();
        live.or_else(|| first.get_value())
    });
    let silent_s = Memo::new(move |_| {
        let now = device.system.now_ms.get();
        let heard_ms = device.link.anchor_heard_ms.get().unwrap_or(opened_ms);
        // A page that was drawn before the clock ran has waited for nothing yet.
        let since = (now - heard_ms.max(opened_ms)) / 1000;
        (opened_ms > 0 && since >= SILENT_S).then_some(since)
    });
    (heard, silent_s)
}

#[component]
fn Live(first: Result<WatchPage, String>) -> impl IntoView {
    let device = device();
    let (first, why) = match first {
        Ok(page) => (Some(page), None),
        Err(why) => (None, Some(why)),
    };
    let (heard, silent_s) = listen(device, first);
    Effect::new(move |_| device.dispatch(SystemCommand::StayAwake(true)));
    on_cleanup(move || device.dispatch(SystemCommand::StayAwake(false)));
    // What nobody has seen sounds again and again, and so does a page that has gone blind.
    let loud = Memo::new(move |_| {
        let mut loud: BTreeSet<String> = heard.with(|page| {
            let alarms = page.iter().flat_map(|page| &page.alarms);
            let loud = alarms.filter(|line| line.level >= 2 && line.seen_by.is_empty());
            loud.map(|line| format!("{}{}", line.about, line.level))
                .collect()
        });
        loud.extend(silent_s.get().map(|_| "silent".to_owned()));
        loud
    });
    let turn = Memo::new(move |_| device.system.now_ms.get() / AGAIN_MS);
    Effect::new(move |_| {
        turn.get();
        if loud.with(|loud| !loud.is_empty()) {
            device.dispatch(MediaCommand::Alert);
        }
    });
    let heard_s = Signal::derive(move || {
        let now = device.system.now_ms.get();
        let then = device.link.anchor_heard_ms.get()?;
        Some(u64::try_from((now - then) / 1000).unwrap_or(0))
    });
    let clock = move || heard.with(|page| page.as_ref().map(|page| time::clock_s(page.now_ms)));
    let silent = move || silent_s.get().map(|s| words::silent(&time::span(s * 1000)));
    let sound = move || {
        let is_ready = device.system.keeping.with(|keeping| keeping.sound_ready);
        if is_ready {
            words::SOUND_ARMED.to_owned()
        } else {
            words::SOUND_MUTE.to_owned()
        }
    };
    let title = move || match silent() {
        Some(silent) => silent,
        None => words::WATCH.to_owned(),
    };
    view! {
        <Title text=title />
        <div class="watch">
            <header class="bridge-head">
                <h1>{words::WATCH}</h1>
                <span class="bridge-time">{clock} " " <small class="unit">"UTC"</small></span>
                <Age heard_s />
                <A href="/bridge" attr:class="plan-way">{common::BRIDGE}</A>
                <A href="/watch/night" attr:class="plan-way">
                    {words::NIGHT}
                </A>
                <A href="/watch/inputs" attr:class="plan-way">{words::INPUTS}</A>
                <PersonMark />
                <LightSwitch
                    chosen=device.system.light
                    on_choose=move |light| device.dispatch(SystemCommand::Light(light))
                />
            </header>
            {move || silent().map(|said| view! { <p class="bridge-cut" role="alert">{said}</p> })}
            {move || {
                heard
                    .with(Option::is_none)
                    .then(|| {
                        let why = why.clone().unwrap_or_default();
                        view! { <Empty head=words::NOT_REACHED body=why /> }
                    })
            }}
            <Standing heard />
            <Alarms heard />
            <Plot heard />
            <div class="watch-side">
                <Distance heard />
                <Figures heard />
            </div>
            <Keys heard />
            <footer class="watch-foot">
                <p data-sound="">{sound}</p>
                <Ways heard />
                <p class="quiet">{words::ASLEEP}</p>
                <Caution text=words::WATCH_CAUTION.text() />
                <p class="quiet">{words::WATCH_DEFER}</p>
                <a href="/watch.csv" rel="external">{words::MINUTES}</a>
            </footer>
        </div>
    }
}

/// What is watched, by whom, and what is wanting for it.
#[component]
fn Standing(heard: Heard) -> impl IntoView {
    let lines =
        Memo::new(move |_| heard.with(|page| page.as_ref().map(standing).unwrap_or_default()));
    move || {
        lines.with(|lines| {
            let lines = lines.iter().map(|(tone, said)| {
                let (tone, said) = (*tone, said.clone());
                view! {
                    <p class=format!("banner {}", tone.class())>
                        <ToneShape tone />
                        <span class="banner-text">{said}</span>
                    </p>
                }
            });
            view! { <section class="watch-standing">{lines.collect_view()}</section> }
        })
    }
}

fn standing(page: &WatchPage) -> Vec<(Tone, String)> {
    let mut lines = Vec::new();
    if let Some(times) = page.replay {
        lines.push((Tone::Alarm, words::replayed(&times.to_string())));
    }
    if !page.has_inputs {
        lines.push((
            Tone::Wait,
            format!("{}. {}", words::NO_INPUTS, words::NO_INPUTS_BODY),
        ));
    }
    match page.since_ms {
        None => lines.push((
            Tone::Wait,
            format!("{}. {}", words::NO_ANCHOR, words::NO_ANCHOR_BODY),
        )),
        Some(since_ms) => {
            let keeper = match &page.keeper {
                Some((who, at_ms)) => words::kept_by(who, &time::clock(*at_ms)),
                None => words::NOBODY_KEEPS.to_owned(),
            };
            let since = words::watched_since(&time::clock(since_ms));
            lines.push((Tone::Calm, format!("{since} {keeper}")));
            if let Some(due_ms) = page.bearings_due_ms {
                let clock = time::clock(due_ms);
                lines.push(if due_ms <= page.now_ms {
                    (Tone::Wait, words::bearings_late(&clock))
                } else {
                    (Tone::Calm, words::bearings_due(&clock))
                });
            }
            for what in &page.missing {
                lines.push((Tone::Wait, words::missing(what)));
            }
        }
    }
    lines
}

#[component]
fn Alarms(heard: Heard) -> impl IntoView {
    let device = device();
    let lines = Memo::new(move |_| {
        heard.with(|page| {
            page.as_ref()
                .map(|page| page.alarms.clone())
                .unwrap_or_default()
        })
    });
    let now_ms = move || heard.with_untracked(|page| page.as_ref().map_or(0, |page| page.now_ms));
    let line = move |alarm: &AlarmLine| {
        let tone = if alarm.level >= 3 {
            Tone::Alarm
        } else {
            Tone::Wait
        };
        let mut after = vec![words::since(&time::clock(alarm.at_ms))];
        if alarm.is_over {
            after.push(words::OVER.to_owned());
        }
        match alarm.stage {
            0 => {}
            1 => after.push(words::GONE_TO_MASTER.to_owned()),
            _ => after.push(words::GONE_TO_ALL.to_owned()),
        }
        if !alarm.seen_by.is_empty() {
            after.push(words::seen_by(&alarm.seen_by));
        }
        let id = alarm.id.parse::<record::RecordId>().ok();
        if id.is_none() {
            after.push(words::NOT_ON_RECORD.to_owned());
        }
        let key = id.filter(|_| alarm.seen_by.is_empty()).map(|alarm| {
            let seen = move |_| say(device, now_ms(), WatchSaid::Seen { alarm });
            view! {
                <button
                    type="button"
                    class="button is-primary"
                    disabled=move || !is_officer(device)
                    on:click=seen
                >
                    {words::SEEN}
                </button>
            }
        });
        view! {
            <li class=format!("watch-alarm banner {}", tone.class()) data-about=alarm.about.clone() data-level=alarm.level>
                <ToneShape tone />
                <p class="banner-text">
                    <strong>{words::level(alarm.level)}</strong>
                    " "
                    <span data-text="alarm">{alarm.text.clone()}</span>
                    " "
                    <small>{after.join(", ")}</small>
                </p>
                {key}
            </li>
        }
    };
    move || {
        lines.with(|lines| {
            if lines.is_empty() {
                return view! { <p class="watch-quiet">{words::NO_ALARM}</p> }.into_any();
            }
            let all = lines.iter().map(line).collect_view();
            view! { <ul class="watch-alarms" role="alert" aria-label=words::ALARMS>{all}</ul> }
                .into_any()
        })
    }
}

/// The plot: the server has drawn it.
#[component]
fn Plot(heard: Heard) -> impl IntoView {
    let half = Memo::new(move |_| heard.with(|page| page.as_ref().map_or(0.0, |page| page.plot_m)));
    let drawn = Memo::new(move |_| {
        heard.with(|page| {
            page.as_ref()
                .map(|page| page.plot.clone())
                .unwrap_or_default()
        })
    });
    view! {
        <figure class="watch-plot" hidden=move || drawn.with(String::is_empty)>
            <svg
                viewBox=move || {
                    let half = half.get();
                    format!("{0} {0} {1} {1}", -half, 2.0 * half)
                }
                role="img"
                aria-label=words::PLOT
                inner_html=drawn
            ></svg>
            <figcaption class="quiet">{words::PLOT}</figcaption>
        </figure>
    }
}

/// The one large bar: how far she lies of how far she may.
#[component]
fn Distance(heard: Heard) -> impl IntoView {
    let of = Memo::new(move |_| {
        heard.with(|page| {
            let page = page.as_ref()?;
            Some((page.distance_m, page.allowed_m, page.is_antenna))
        })
    });
    move || {
        let (distance, allowed, is_antenna) = of.get().unwrap_or_default();
        let said = match (distance, allowed) {
            (Some(distance), Some(allowed)) => {
                words::of_allowed(&distance.to_string(), &allowed.to_string())
            }
            (None, Some(allowed)) => words::unknown_of(&allowed.to_string()),
            (Some(distance), None) => format!("{distance} m"),
            (None, None) => words::NOT_KNOWN.to_owned(),
        };
        let part = distance.zip(allowed).map(|(is, may)| is / may.max(1.0));
        let is_out = part.is_some_and(|part| part > 1.0);
        let filled = part.unwrap_or(0.0).min(1.25) * 80.0;
        let label = if is_antenna {
            words::ANTENNA_TO_ANCHOR
        } else {
            words::HAWSE_TO_ANCHOR
        };
        view! {
            <section class="watch-distance" class:is-out=is_out>
                <h2 class="bridge-heading">{label}</h2>
                <p class="watch-figure" data-distance="">{said}</p>
                {part
                    .is_some()
                    .then(|| {
                        view! {
                            <svg
                                class="watch-bar"
                                viewBox="0 0 100 10"
                                preserveAspectRatio="none"
                                aria-hidden="true"
                            >
                                <rect class="watch-bar-all" width="100" height="10" />
                                <rect class="watch-bar-is" width=filled height="10" />
                                <path class="watch-bar-end" d="M80 0V10" />
                            </svg>
                        }
                    })}
            </section>
        }
    }
}

fn metres(value: Option<f64>, unit: &str) -> String {
    value.map_or_else(
        || words::NOT_KNOWN.to_owned(),
        |value| format!("{value:.1} {unit}"),
    )
}

/// Wind against the limits, water, cable, inputs.
#[component]
fn Figures(heard: Heard) -> impl IntoView {
    let row = |name: common::Word, value: String, is_over: bool| {
        view! {
            <tr class:is-over=is_over>
                <th scope="row">{name}</th>
                <td data-text="value">{value}</td>
            </tr>
        }
    };
    let table = move |page: &WatchPage| {
        let [now, mean, gust] = page.wind_kn;
        let wind = [
            (words::WIND_NOW, now),
            (words::WIND_MEAN, mean),
            (words::WIND_GUST, gust),
        ];
        let wind = wind.map(|(name, value)| row(name, metres(value, "kn"), false));
        let names = [words::LIMIT_CALL, words::LIMIT_ENGINES, words::LIMIT_WEIGH];
        let limits = names.into_iter().zip(page.wind_limits_kn);
        let limits = limits.map(|(name, limit)| {
            let is_over = mean
                .or(now)
                .zip(limit)
                .is_some_and(|(wind, limit)| wind >= limit);
            row(name, metres(limit, "kn"), is_over)
        });
        let [depth, under, least] = page.depth_m;
        let is_shoal = under.zip(least).is_some_and(|(under, least)| under < least);
        let water = [
            row(words::DEPTH, metres(depth, "m"), false),
            row(words::EXPECTED, metres(page.expected_depth_m, "m"), false),
            row(words::UNDER_KEEL, metres(under, "m"), is_shoal),
            row(words::LEAST_KEPT, metres(least, "m"), false),
        ];
        let inputs = page.inputs.iter().map(|input| {
            let said = match input.age_s {
                Some(age_s) => words::old_from(&time::span(i64::from(age_s) * 1000), &input.source),
                None => words::NEVER_HEARD.to_owned(),
            };
            let is_old = input.age_s.is_none_or(|age| age >= 30);
            row(words::quantity(&input.name), said, is_old)
        });
        let danger = page
            .danger
            .as_ref()
            .map(|(name, far, minutes)| match minutes {
                Some(minutes) => words::there_in(name, &far.to_string(), &minutes.to_string()),
                None => words::not_toward(name, &far.to_string()),
            });
        let danger = danger.unwrap_or_else(|| words::NOT_KNOWN.to_owned());
        let cable = [metres(page.cable_m, "m"), page.lead.clone()];
        let cable = cable
            .into_iter()
            .filter(|said| !said.is_empty())
            .collect::<Vec<_>>();
        view! {
            <table class="watch-table">
                <tbody>
                    <tr><th colspan="2">{words::WIND}</th></tr>
                    {wind.into_iter().collect_view()}
                    {limits.collect_view()}
                </tbody>
                <tbody>
                    <tr><th colspan="2">{words::WATER}</th></tr>
                    {water.into_iter().collect_view()}
                </tbody>
                <tbody>
                    <tr>
                        <th colspan="2">{words::WAY_OUT}</th>
                    </tr>
                    {row(words::DRIFT, metres(page.drift_kn, "kn"), false)}
                    {row(words::NEAREST, danger, false)}
                    {row(words::TO_WEIGH, metres(page.weigh_min, "min"), false)}
                </tbody>
                <tbody>
                    {row(words::CABLE_OUT, cable.join(", "), false)}
                </tbody>
                <tbody>
                    <tr><th colspan="2">{words::INPUTS} " " <small data-text="value">{page.quality.clone()}</small></th></tr>
                    {inputs.collect_view()}
                </tbody>
            </table>
        }
    };
    move || heard.with(|page| page.as_ref().map(table))
}
