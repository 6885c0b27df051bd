//! Rounds: what is due, what is overdue, what is done, from the records alone.

mod dates;

use crate::bow::begin::{Asking, Choices, start};
use crate::office::head::OfficeHead;
use crate::parts::{Defer, StatusWord, Tone};
use crate::port::{Device, DeviceState, device};
use crate::time;
use crate::words::{forward, ship as words};
use dates::Dates;
use journal::address;
use journal::catalogue::{self, RoundsPage as Page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::NavigateOptions;
use leptos_router::components::A;
use leptos_router::hooks::use_navigate;
use procedure::{ItemsRound, Round, RoundState};
use std::sync::Arc;

/// How often the page looks at the clock, ms.
const LOOK_MS: i64 = 60_000;

/// How a round stands, in a word, and how much that asks of the reader.
fn standing(round: &Round) -> (Tone, String) {
    let tone = match round.state {
        RoundState::Overdue => Tone::Alarm,
        RoundState::NeverDone | RoundState::NotSet | RoundState::Due => Tone::Wait,
        RoundState::Done => Tone::Done,
    };
    let said = if round.under_way {
        format!("{}, {}", words::round_state(round.state), words::UNDER_WAY)
    } else {
        words::round_state(round.state).to_owned()
    };
    (tone, said)
}

/// Every round with how it stands. `title` draws a round's name, `after` what stands at the end of its row.
pub fn table<T: IntoView + 'static, A: IntoView + 'static>(
    rounds: Vec<Round>,
    title: impl Fn(&Round) -> T,
    after: impl Fn(&Round) -> A,
) -> impl IntoView {
    let clock =
        |at_ms: Option<i64>, none: &str| at_ms.map_or_else(|| none.to_owned(), time::date_clock);
    let row = |round: Round| {
        let (tone, said) = standing(&round);
        view! {
            <tr>
                <th scope="row">{title(&round)}</th>
                <td>
                    <StatusWord tone word=said />
                </td>
                <td class="is-time">{clock(round.last_at_ms, words::NEVER.text())}</td>
                <td class="is-time">{clock(round.due_at_ms, "—")}</td>
                {after(&round)}
            </tr>
        }
    };
    let rows = rounds.into_iter().map(row).collect_view();
    view! {
        <div class="table-frame">
            <table class="table">
                <thead>
                    <tr>
                        <th scope="col">{words::ROUND}</th>
                        <th scope="col">{words::STANDING}</th>
                        <th scope="col">{words::LAST}</th>
                        <th scope="col">{words::DUE}</th>
                    </tr>
                </thead>
                <tbody>{rows}</tbody>
            </table>
        </div>
    }
}

/// The key that starts a round, where someone is enrolled who may.
fn start_key(device: Device, asking: Asking, round: &Round) -> impl IntoView + use<> {
    let slug = StoredValue::new(round.slug.clone());
    let begin = move |_| {
        let current = device.records.ledger.with_untracked(|ledger| {
            let current = ledger.as_ref()?.current(&slug.get_value())?;
            Some(Arc::clone(current))
        });
        if let Some(procedure) = current {
            start(device, asking, procedure);
        }
    };
    let key = move || {
        let can_start = matches!(device.identity.state.get(), DeviceState::Enrolled(_));
        can_start.then(|| {
            view! {
                <button
                    type="button"
                    class="button is-quiet"
                    disabled=move || device.records.saving.get()
                    on:click=begin
                >
                    {words::START}
                </button>
            }
        })
    };
    view! { <td class="is-key">{key}</td> }
}

/// How many items of a round have their result in time, and which are left.
fn items(round: &ItemsRound) -> impl IntoView + use<> {
    let done = (round.all - round.left.len()).to_string();
    let said = words::each_in_time(&done, &round.all.to_string(), &round.kind);
    let names = round
        .left
        .iter()
        .map(|(code, name)| format!("{name} ({code})"));
    let names = names.collect::<Vec<_>>().join(", ");
    let left =
        (!names.is_empty()).then(|| view! { <p data-text="name">{words::each_left(&names)}</p> });
    let tone = if left.is_some() {
        Tone::Wait
    } else {
        Tone::Done
    };
    view! {
        <section class="round-items" data-round=round.slug.clone()>
            <StatusWord tone word=said />
            {left}
        </section>
    }
}

fn body(page: Page, asking: Asking) -> impl IntoView {
    let device = device();
    let title = |round: &Round| {
        let (href, title) = (format!("/procedures/{}", round.slug), round.title.clone());
        view! { <A href=href>{title}</A> }
    };
    view! {
        <div class="office-title">
            <h1>{words::ROUNDS}</h1>
            <p class="quiet">{page.ship} ". " {words::ROUNDS_BODY}</p>
            <Defer />
        </div>
        {table(page.rounds, title, move |round| start_key(device, asking, round))}
        {page.items.iter().map(items).collect_view()}
        <p class="not-printed">
            <A href="/drills">{forward::DRILLS}</A>
            " "
            <A href="/survey">{forward::SURVEY}</A>
        </p>
        <Dates settings=page.settings titles=page.titles />
    }
}

/// The page of what is due.
#[component]
pub fn RoundsPage() -> impl IntoView {
    let device = device();
    let navigate = use_navigate();
    Effect::new(move |_| {
        if let Some(run) = device.records.started.get() {
            device.records.started.set(None);
            navigate(&format!("/bow/run/{run}"), NavigateOptions::default());
        }
    });
    let minute = Memo::new(move |_| device.system.now_ms.get().div_euclid(LOOK_MS) * LOOK_MS);
    let asking = Asking::new(None);
    let choices = move || {
        let procedure = asking.get()?;
        Some(view! {
            <div class="office ship">
                <OfficeHead />
                <main class="office-main">
                    <Choices procedure asking />
                </main>
            </div>
        })
    };
    view! {
        <Title text=words::ROUNDS />
        {choices}
        <div hidden=move || asking.with(Option::is_some)>
            {super::shown(
                || address::ROUNDS.at([]),
                move |ledger| {
                    // The minute alone draws nothing anew: a form may stand open.
                    let page = catalogue::rounds_page(ledger, minute.get());
                    Some(Page { now_ms: 0, ..page })
                },
                move |page| body(page, asking),
            )}
        </div>
    }
}
