//! Alarms that cannot be missed: on whatever page, over everything, and felt where the device can shake.
//!
//! They follow from the records and the clock alone, so that a phone that slept or was started again shows
//! the same ones.

use crate::port::{Act, Phone};
use crate::words;
use journal::{Board, Ledger, RunId};
use leptos::prelude::*;
use leptos_router::components::A;
use procedure::{Alarm, AlarmKind, AlarmLevel, RunView, StepId};
use std::collections::{BTreeMap, BTreeSet};

/// How often alarms are looked for when no record comes, ms.
const LOOK_MS: i64 = 5_000;
/// How often the device shakes again while someone is in danger and nobody has seen it, ms.
const AGAIN_MS: i64 = 15_000;

/// Names an alarm, so that one that was seen is not shown again until it comes anew.
type Key = (RunId, AlarmKind, Option<StepId>, i64);

#[derive(Debug, Clone, PartialEq, Eq)]
struct Rung {
    key: Key,
    level: AlarmLevel,
    title: String,
    words: String,
}

/// Alarms that someone must look at at once. What the crew can do nothing about at once stands on the pages.
fn rings(alarm: &Alarm) -> bool {
    alarm.level == AlarmLevel::Danger
        || (alarm.level == AlarmLevel::Warning
            && matches!(
                alarm.kind,
                AlarmKind::CallOverdue
                    | AlarmKind::EntryOverdue
                    | AlarmKind::Stale
                    | AlarmKind::OutOfLimits
                    | AlarmKind::Stopped
                    | AlarmKind::Inside
            ))
}

fn of_run(run: RunId, view: &RunView, all: &mut BTreeMap<RunId, Vec<Rung>>) {
    let found = view.alarms.iter().filter(|alarm| rings(alarm));
    let ringing = found.map(|alarm| Rung {
        key: (run, alarm.kind, alarm.step.clone(), alarm.since_ms),
        level: alarm.level,
        title: view.title.clone(),
        words: alarm.words.clone(),
    });
    all.insert(run, ringing.collect());
}

/// Returns what rings now: by this device's own records, and by the board for runs that are not on it.
fn ringing(ledger: Option<&Ledger>, board: Option<&Board>, now_ms: i64) -> Vec<Rung> {
    let mut all = BTreeMap::new();
    for card in board.into_iter().flat_map(|board| &board.open) {
        of_run(card.run, &card.view, &mut all);
    }
    let runs = ledger.into_iter().flat_map(|ledger| ledger.runs().values());
    for file in runs {
        let is_open = file
            .past
            .as_ref()
            .is_some_and(|past| past.closed_at_ms.is_none());
        if let (true, Some(state)) = (is_open, &file.state) {
            of_run(file.id, &state.view(now_ms), &mut all);
        }
    }
    let mut all: Vec<Rung> = all.into_values().flatten().collect();
    all.sort_by(|a, b| (a.level, &a.key).cmp(&(b.level, &b.key)));
    all
}

fn look(phone: Phone, tick_ms: i64) -> Vec<Rung> {
    phone.ledger.with(|ledger| {
        phone
            .board
            .with(|board| ringing(ledger.as_ref(), board.as_ref(), tick_ms))
    })
}

/// The alarms that nobody here has seen yet, over every page.
#[component]
pub fn AlarmBar() -> impl IntoView {
    // The list of routes is made from the program without any device.
    use_context::<Phone>().map(|phone| view! { <Ringing phone /> })
}

#[component]
fn Ringing(phone: Phone) -> impl IntoView {
    let seen = RwSignal::new(BTreeSet::<Key>::new());
    let tick = Memo::new(move |_| phone.now_ms.get().div_euclid(LOOK_MS) * LOOK_MS);
    let all = Memo::new(move |_| look(phone, tick.get()));
    let unseen = Memo::new(move |_| {
        let mut all = all.get();
        seen.with(|seen| all.retain(|one| !seen.contains(&one.key)));
        all
    });
    // Shakes for each new one, and again while someone is in danger.
    Effect::new(move |before: Option<(BTreeSet<Key>, i64)>| {
        let now = tick.get();
        let (known, shaken_ms) = before.unwrap_or_default();
        let (keys, danger) = unseen.with(|all| {
            let keys: BTreeSet<Key> = all.iter().map(|one| one.key.clone()).collect();
            let danger = all.iter().any(|one| one.level == AlarmLevel::Danger);
            (keys, danger)
        });
        let is_new = keys.iter().any(|key| !known.contains(key));
        if is_new || (danger && now - shaken_ms >= AGAIN_MS) {
            phone.ask(Act::Alert);
            return (keys, now);
        }
        (keys, shaken_ms)
    });
    let line = |one: Rung| {
        let class = if one.level == AlarmLevel::Danger {
            "alarm-line is-danger"
        } else {
            "alarm-line"
        };
        view! {
            <li class=class>
                <A href=format!("/bow/run/{}", one.key.0)>{one.title} ": " {one.words}</A>
            </li>
        }
    };
    move || {
        let unseen = unseen.get();
        (!unseen.is_empty()).then(|| {
            let keys: Vec<Key> = unseen.iter().map(|one| one.key.clone()).collect();
            view! {
                <div class="alarm-bar" role="alert">
                    <ul>{unseen.into_iter().map(line).collect_view()}</ul>
                    <button
                        type="button"
                        class="button"
                        on:click=move |_| seen.update(|seen| seen.extend(keys.iter().cloned()))
                    >
                        {words::ALARM_SEEN}
                    </button>
                </div>
            }
        })
    }
}
