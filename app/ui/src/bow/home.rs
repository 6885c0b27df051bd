//! What is being worked, and what can be started.

use super::begin::Procedures;
use super::head::BowHead;
use super::plan::NewestOrder;
use crate::later::fetch_ahead;
use crate::parts::{ChainStrip, Empty, StripSize};
use crate::port::{DeviceState, device};
use crate::run_links::links;
use crate::seconds::ToSign;
use crate::{time, words};
use journal::RunCard;
use journal::board::run_card;
use journal::shelf::CLOSED_SHOWN;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

#[component]
fn RunRow(card: RunCard) -> impl IntoView {
    let device = device();
    let crew = device.records.ledger.with_untracked(|ledger| {
        ledger
            .as_ref()
            .and_then(|ledger| ledger.particulars())
            .map(|body| body.crew.clone())
            .unwrap_or_default()
    });
    let when = format!(
        "{} {} · {}",
        time::day(card.started_ms),
        time::clock(card.started_ms),
        card.started_by
    );
    view! {
        <A href=format!("/bow/run/{}", card.run) attr:class="start-run">
            <span class="start-run-title">{card.title.clone()}</span>
            <ChainStrip links=links(&card.view, &crew) size=StripSize::Small />
            <span class="quiet">{when}</span>
        </A>
    }
}

/// The bow's list of runs.
#[component]
pub fn BowHome() -> impl IntoView {
    let device = device();
    fetch_ahead();
    let cards = Memo::new(move |_| {
        let now = device.system.now_ms.get_untracked();
        device.records.ledger.with(|ledger| {
            let Some(ledger) = ledger else {
                return (Vec::new(), Vec::new());
            };
            let all = ledger
                .runs()
                .keys()
                .filter_map(|run| run_card(ledger, *run, now));
            let (mut closed, mut open): (Vec<_>, Vec<_>) =
                all.partition(|card| card.view.closed.is_some());
            open.sort_by_key(|card| std::cmp::Reverse(card.newest_ms));
            closed.sort_by_key(|card| std::cmp::Reverse(card.newest_ms));
            closed.truncate(CLOSED_SHOWN);
            (open, closed)
        })
    });
    let unread = device.records.unread;
    let rows = |cards: Vec<RunCard>| {
        cards
            .into_iter()
            .map(|card| view! { <RunRow card /> })
            .collect_view()
    };
    let body = move || match device.identity.state.get() {
        DeviceState::Opening => {
            let body = match unread.get() {
                0 => words::OPENING_BODY.to_string(),
                left => words::records_unread(left),
            };
            view! { <Empty head=words::OPENING body /> }.into_any()
        }
        DeviceState::NoStore(why) => view! { <Empty head=words::NO_STORE body=why /> }.into_any(),
        DeviceState::Unknown => view! {
            <Empty head=words::ENROL_FIRST body=words::ENROL_FIRST_BODY>
                <A href="/bow/enrol" attr:class="button is-primary">
                    {words::ENROL}
                </A>
            </Empty>
        }
        .into_any(),
        DeviceState::Enrolled(_) => view! {
            <ToSign />
            <section class="start-runs">
                <h2>{words::UNDER_WAY}</h2>
                {move || {
                    let open = cards.with(|(open, _)| open.clone());
                    if open.is_empty() {
                        view! { <Empty head=words::NOTHING_OPEN body=words::NOTHING_OPEN_BODY /> }
                            .into_any()
                    } else {
                        rows(open).into_any()
                    }
                }}
            </section>
            <section class="start-runs">
                <h2>{words::START_ONE}</h2>
                <Procedures />
            </section>
            <section class="start-runs">
                {move || {
                    let left = unread.get();
                    (left > 0).then(|| view! { <p role="status">{words::runs_unread(left)}</p> })
                }}
                {move || {
                    let closed = cards.with(|(_, closed)| closed.clone());
                    (!closed.is_empty())
                        .then(|| view! { <h2>{words::CLOSED_LATELY}</h2> {rows(closed)} })
                }}
            </section>
        }
        .into_any(),
    };
    view! {
        <Title text=words::BOW_TITLE />
        <div class="bow is-list">
            <BowHead title=words::BOW_TITLE back="/" />
            <NewestOrder />
            <main class="bow-home">{body}</main>
        </div>
    }
}
