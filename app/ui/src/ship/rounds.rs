//! Rounds: what is due, what is overdue, what is done, from the records alone.

use super::words;
use crate::parts::{StatusWord, Tone};
use crate::port::{Act, Standing, phone};
use crate::time;
use journal::catalogue::{self, RoundsPage as Page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::NavigateOptions;
use leptos_router::components::A;
use leptos_router::hooks::use_navigate;
use procedure::{Round, RoundState};

/// How often the page looks at the clock, ms.
const LOOK_MS: i64 = 60_000;

fn row(round: Round) -> impl IntoView {
    let phone = phone();
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
    let last = round
        .last_at_ms
        .map_or_else(|| words::NEVER.to_owned(), time::date_clock);
    let due = round
        .due_at_ms
        .map_or_else(|| "—".to_owned(), time::date_clock);
    let slug = round.slug.clone();
    let can_start = move || matches!(phone.standing.get(), Standing::Enrolled(_));
    view! {
        <tr>
            <th scope="row">
                <A href=format!("/procedures/{}", round.slug)>{round.title}</A>
            </th>
            <td>
                <StatusWord tone word=said />
            </td>
            <td class="is-time">{last}</td>
            <td class="is-time">{due}</td>
            <td>
                {move || {
                    let slug = slug.clone();
                    can_start()
                        .then(|| {
                            view! {
                                <button
                                    type="button"
                                    class="button is-quiet"
                                    disabled=move || phone.saving.get()
                                    on:click=move |_| {
                                        phone
                                            .ask(Act::Start {
                                                slug: slug.clone(),
                                                choices: Vec::new(),
                                            });
                                    }
                                >
                                    {words::START}
                                </button>
                            }
                        })
                }}
            </td>
        </tr>
    }
}

fn body(page: Page) -> impl IntoView {
    view! {
        <div class="office-title">
            <h1>{words::ROUNDS}</h1>
            <p class="quiet">{page.ship} ". " {words::ROUNDS_BODY}</p>
        </div>
        <div class="table-frame">
            <table class="table">
                <thead>
                    <tr>
                        <th scope="col">{words::ROUND}</th>
                        <th scope="col">{words::STANDING}</th>
                        <th scope="col">{words::LAST}</th>
                        <th scope="col">{words::DUE}</th>
                        <th scope="col"></th>
                    </tr>
                </thead>
                <tbody>{page.rounds.into_iter().map(row).collect_view()}</tbody>
            </table>
        </div>
    }
}

/// The page of what is due.
#[component]
pub fn RoundsPage() -> impl IntoView {
    let phone = phone();
    let navigate = use_navigate();
    Effect::new(move |_| {
        if let Some(run) = phone.started.get() {
            phone.started.set(None);
            navigate(&format!("/bow/run/{run}"), NavigateOptions::default());
        }
    });
    let minute = Memo::new(move |_| phone.now_ms.get().div_euclid(LOOK_MS) * LOOK_MS);
    view! {
        <Title text=words::ROUNDS />
        {super::shown(
            || "rounds".to_owned(),
            move |ledger| Some(catalogue::rounds_page(ledger, minute.get())),
            body,
        )}
    }
}
