//! Alarms that cannot be missed: on whatever page, over everything, and felt where the device can shake.
//!
//! They follow from the records and the clock alone, so that a phone that slept or was started again shows
//! the same ones.

use crate::port::{Device, MediaCommand, RecordCommand};
use crate::run_links::name_in;
use crate::{time, words};
use journal::{Board, Ledger, Person, RunId};
use leptos::prelude::*;
use leptos_router::components::A;
use procedure::{
    Alarm, AlarmKind, AlarmLevel, Event, HistoryLine, Role, RunState, RunView, StepId,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// How often alarms are looked for when no record comes, ms.
const LOOK_MS: i64 = 5_000;
/// How often the device shakes again while someone is in danger and nobody has seen it, ms.
const AGAIN_MS: i64 = 15_000;

/// How many are shown at once; the worst stand first, and the keys of the page stay in reach.
const SHOWN: usize = 2;

/// What rings.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
enum What {
    /// An alarm, since when.
    Alarm(AlarmKind, Option<StepId>, i64),
    /// That a consent was refused or denied, by the event that says so.
    No([u8; 32]),
}

/// Names what rings, so that one that was seen is not shown again until it comes anew.
type Key = (RunId, What);

#[derive(Debug, Clone, PartialEq, Eq)]
struct RingingAlarm {
    key: Key,
    level: AlarmLevel,
    title: String,
    message: String,
    /// What an officer puts on record who has seen it; none where the record says enough already.
    acknowledge: Option<Event>,
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
                    | AlarmKind::WaitOver
            ))
}

/// Returns what rings of a run: its alarms, and each no that was said while its hold still waits.
fn of_view(run: RunId, view: &RunView, crew: &[Person]) -> Vec<RingingAlarm> {
    let mut all = of_run(run, &view.title, &view.alarms);
    if view.closed.is_none() {
        let lines = view
            .history
            .iter()
            .filter(|line| !line.without_right && line.struck.is_none());
        all.extend(lines.filter_map(|line| said_no(run, view, line, crew)));
    }
    all
}

fn said_no(
    run: RunId,
    view: &RunView,
    line: &HistoryLine,
    crew: &[Person],
) -> Option<RingingAlarm> {
    let who = name_in(crew, &line.by);
    let (step, message) = match &line.event {
        Event::Consent {
            step,
            granted: false,
            words: said,
            ..
        } => {
            let step = view.steps.iter().find(|one| one.id == *step)?;
            let clock = time::clock(line.at_ms);
            (step, words::said_no(&who, &step.instruction, &clock, said))
        }
        Event::Countersign {
            event,
            granted: false,
            ..
        } => {
            let consent = view.history.iter().find(|line| line.id == *event)?;
            let step = view
                .steps
                .iter()
                .find(|one| Some(&one.id) == consent.step.as_ref())?;
            (step, words::said_not_me(&who, &step.instruction))
        }
        _ => return None,
    };
    (!step.passed).then(|| RingingAlarm {
        key: (run, What::No(line.id)),
        level: AlarmLevel::Danger,
        title: view.title.clone(),
        message,
        acknowledge: None,
    })
}

fn of_run(run: RunId, title: &str, alarms: &[Alarm]) -> Vec<RingingAlarm> {
    // Once an officer has said that they saw it, only danger to people goes on ringing, until it is over.
    let waits = |alarm: &&Alarm| alarm.seen.is_none() || alarm.level == AlarmLevel::Danger;
    let found = alarms.iter().filter(|alarm| rings(alarm)).filter(waits);
    let ringing = found.map(|alarm| RingingAlarm {
        key: (
            run,
            What::Alarm(alarm.kind, alarm.step.clone(), alarm.since_ms),
        ),
        level: alarm.level,
        title: title.to_owned(),
        message: alarm.words.clone(),
        acknowledge: alarm.seen.is_none().then(|| alarm.acknowledge()),
    });
    ringing.collect()
}

/// Puts the alarms of all runs in the order in which they are shown: danger first. What stands later in `runs`
/// of one run takes the place of what stands earlier.
fn in_order(runs: impl IntoIterator<Item = (RunId, Vec<RingingAlarm>)>) -> Vec<RingingAlarm> {
    let by_run: BTreeMap<RunId, Vec<RingingAlarm>> = runs.into_iter().collect();
    let mut all: Vec<RingingAlarm> = by_run.into_values().flatten().collect();
    all.sort_by(|a, b| (a.level, &a.key).cmp(&(b.level, &b.key)));
    all
}

/// What was shaken for, and when, ms UTC.
type Shaken = (BTreeSet<Key>, i64);

/// Returns whether the device shakes now, and what to remember of it: it shakes for each new alarm, and again
/// while someone is in danger.
fn shakes(before: Option<Shaken>, unseen: &[RingingAlarm], now_ms: i64) -> (bool, Shaken) {
    let (known, shaken_ms) = before.unwrap_or_default();
    let keys: BTreeSet<Key> = unseen.iter().map(|one| one.key.clone()).collect();
    let is_new = !keys.is_subset(&known);
    let is_danger = unseen.iter().any(|one| one.level == AlarmLevel::Danger);
    let shakes = is_new || (is_danger && now_ms.saturating_sub(shaken_ms) >= AGAIN_MS);
    (shakes, (keys, if shakes { now_ms } else { shaken_ms }))
}

/// What was found in this device's own open runs at the last look.
#[derive(Debug, Default)]
struct Seen {
    now_ms: i64,
    runs: BTreeMap<RunId, (Arc<RunState>, Vec<RingingAlarm>)>,
}

impl Seen {
    /// Looks at the open runs of `ledger`: at those that changed, and at all once the time has moved on.
    fn of_own(
        &mut self,
        ledger: Option<&Ledger>,
        now_ms: i64,
    ) -> impl Iterator<Item = (RunId, Vec<RingingAlarm>)> {
        let is_later = self.now_ms != now_ms;
        self.now_ms = now_ms;
        let crew = ledger.and_then(Ledger::particulars);
        let crew = crew.map_or(&[][..], |body| &body.crew);
        let mut before = std::mem::take(&mut self.runs);
        for file in ledger.into_iter().flat_map(Ledger::open_runs) {
            let Some(state) = &file.state else { continue };
            let kept = before
                .remove(&file.id)
                .filter(|(known, _)| !is_later && Arc::ptr_eq(known, state));
            let found = kept.map_or_else(
                || {
                    let view = state.view(now_ms);
                    of_view(file.id, &view, crew)
                },
                |(_, found)| found,
            );
            self.runs.insert(file.id, (Arc::clone(state), found));
        }
        self.runs
            .iter()
            .map(|(run, (_, found))| (*run, found.clone()))
    }
}

/// Returns what rings now: by this device's own records, and by the board for runs that are not on it.
///
/// A run that has not changed since the last look is not looked at again: `seen` keeps what was found.
fn ringing(
    ledger: Option<&Ledger>,
    board: Option<&Board>,
    now_ms: i64,
    seen: &mut Seen,
) -> Vec<RingingAlarm> {
    let mut all = Vec::new();
    for card in board.into_iter().flat_map(|board| &board.open) {
        let crew = board.map_or(&[][..], |board| &board.crew);
        all.push((card.run, of_view(card.run, &card.view, crew)));
    }
    all.extend(seen.of_own(ledger, now_ms));
    in_order(all)
}

fn look(device: Device, tick_ms: i64, seen: &mut Seen) -> Vec<RingingAlarm> {
    device.records.ledger.with(|ledger| {
        device
            .link
            .board
            .with(|board| ringing(ledger.as_ref(), board.as_ref(), tick_ms, seen))
    })
}

/// The alarms that nobody here has seen yet, over every page.
#[component]
pub fn AlarmBar() -> impl IntoView {
    // The list of routes is made from the program without any device.
    use_context::<Device>().map(|device| view! { <Ringing device /> })
}

#[component]
fn Ringing(device: Device) -> impl IntoView {
    let seen = RwSignal::new(BTreeSet::<Key>::new());
    let tick = Memo::new(move |_| device.system.now_ms.get().div_euclid(LOOK_MS) * LOOK_MS);
    let found = StoredValue::new(Seen::default());
    let all = Memo::new(move |_| {
        found
            .try_update_value(|found| look(device, tick.get(), found))
            .unwrap_or_default()
    });
    let unseen = Memo::new(move |_| {
        let mut all = all.get();
        seen.with(|seen| all.retain(|one| !seen.contains(&one.key)));
        all
    });
    Effect::new(move |before: Option<Shaken>| {
        let (shakes, shaken) = unseen.with(|all| shakes(before, all, tick.get()));
        if shakes {
            device.dispatch(MediaCommand::Alert);
        }
        shaken
    });
    let is_officer = Memo::new(move |_| {
        let me = device.me();
        me.is_some_and(|me| me.roles.may_act_as(Role::Officer))
    });
    // What an officer sees goes on record, and rings on until it is there; what anybody else sees is silent here.
    let see = move |shown: &[RingingAlarm]| {
        for one in shown {
            let has_run = |ledger: &Option<Ledger>| {
                ledger
                    .as_ref()
                    .is_some_and(|ledger| ledger.run(one.key.0).is_some())
            };
            let event = one.acknowledge.as_ref().filter(|_| {
                is_officer.get_untracked() && device.records.ledger.with_untracked(has_run)
            });
            if let Some(event) = event {
                let (run, event) = (one.key.0, Box::new(event.clone()));
                device.dispatch(RecordCommand::Say { run, event });
            } else {
                seen.update(|seen| {
                    seen.insert(one.key.clone());
                });
            }
        }
    };
    let line = |one: RingingAlarm| {
        let class = if one.level == AlarmLevel::Danger {
            "alarm-line is-danger"
        } else {
            "alarm-line"
        };
        view! {
            <li class=class>
                <A href=format!("/bow/run/{}", one.key.0)>{one.title} ": " {one.message}</A>
            </li>
        }
    };
    move || {
        let unseen = unseen.get();
        (!unseen.is_empty()).then(|| {
            let more = unseen.len().saturating_sub(SHOWN);
            let shown: Vec<RingingAlarm> = unseen.into_iter().take(SHOWN).collect();
            let said = if is_officer.get() && shown.iter().any(|one| one.acknowledge.is_some()) {
                words::ALARM_SEEN_ON_RECORD.text()
            } else {
                words::ALARM_SEEN.text()
            };
            let lines = shown.clone();
            let more = (more > 0).then(|| view! { <li>{words::more_alarms(more)}</li> });
            view! {
                <div class="alarm-bar" role="alert">
                    <ul>{lines.into_iter().map(line).collect_view()} {more}</ul>
                    <button type="button" class="button" on:click=move |_| see(&shown)>
                        {said}
                    </button>
                </div>
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(number: u8) -> RunId {
        let text = format!("{number:02x}").repeat(32);
        text.parse().expect("64 hexadecimal digits")
    }

    fn alarm(level: AlarmLevel, kind: AlarmKind, since_ms: i64) -> Alarm {
        Alarm {
            level,
            kind,
            step: Some("inside".into()),
            words: format!("{kind:?}"),
            since_ms,
            seen: None,
        }
    }

    fn said(all: &[RingingAlarm]) -> Vec<String> {
        all.iter().map(|one| one.message.clone()).collect()
    }

    #[test]
    fn danger_always_rings_a_notice_never_and_a_warning_where_someone_can_act() {
        use AlarmKind::{CallOverdue, Countersign, NotSo, OutOfLimits, Question, Stale, WaitOver};
        use AlarmLevel::{Danger, Notice, Warning};
        let rows = [
            (Danger, AlarmKind::Inside, true),
            (Danger, Question, true),
            (Warning, CallOverdue, true),
            (Warning, OutOfLimits, true),
            (Warning, Stale, true),
            (Warning, Question, false),
            (Warning, NotSo, false),
            (Warning, WaitOver, true),
            (Notice, WaitOver, false),
            (Notice, Countersign, false),
        ];
        for (level, kind, expected) in rows {
            assert_eq!(
                rings(&alarm(level, kind, 0)),
                expected,
                "{level:?} {kind:?}"
            );
        }
    }

    #[test]
    fn a_warning_that_an_officer_has_seen_is_silent_and_danger_is_not() {
        let seen = |level| Alarm {
            seen: Some(procedure::SeenView {
                by: "holt".into(),
                at_ms: 7,
            }),
            ..alarm(level, AlarmKind::OutOfLimits, 5)
        };
        assert_eq!(of_run(run(1), "", &[seen(AlarmLevel::Warning)]), []);
        let danger = of_run(run(1), "", &[seen(AlarmLevel::Danger)]);
        assert_eq!(danger.len(), 1);
        assert_eq!(danger[0].acknowledge, None, "it is on record already");
    }

    #[test]
    fn danger_stands_first_whichever_run_it_is_of() {
        let late = alarm(AlarmLevel::Warning, AlarmKind::CallOverdue, 1);
        let out = alarm(AlarmLevel::Danger, AlarmKind::Inside, 9);
        let all = in_order([
            (run(1), of_run(run(1), "Entry", &[late])),
            (run(2), of_run(run(2), "Entry", &[out])),
        ]);
        assert_eq!(said(&all), ["Inside", "CallOverdue"]);
    }

    #[test]
    fn what_this_device_knows_of_a_run_takes_the_place_of_what_the_board_says() {
        let boards = [alarm(AlarmLevel::Danger, AlarmKind::Inside, 1)];
        let all = in_order([
            (run(1), of_run(run(1), "Entry", &boards)),
            (run(1), of_run(run(1), "Entry", &[])),
        ]);
        assert_eq!(
            all,
            [],
            "the last is out, and the board has not heard of it"
        );
    }

    #[test]
    fn the_device_shakes_once_for_a_warning_and_again_and_again_for_danger() {
        let warning = of_run(
            run(1),
            "",
            &[alarm(AlarmLevel::Warning, AlarmKind::Stale, 5)],
        );
        let (first, known) = shakes(None, &warning, 1_000);
        let (again, _) = shakes(Some(known), &warning, 1_000 + AGAIN_MS);
        assert_eq!((first, again), (true, false));

        let danger = of_run(
            run(1),
            "",
            &[alarm(AlarmLevel::Danger, AlarmKind::Inside, 5)],
        );
        let (first, known) = shakes(None, &danger, 1_000);
        let (soon, known) = shakes(Some(known), &danger, 999 + AGAIN_MS);
        let (again, _) = shakes(Some(known), &danger, 1_000 + AGAIN_MS);
        assert_eq!((first, soon, again), (true, false, true));
    }

    #[test]
    fn an_alarm_that_comes_anew_is_another_one() {
        let since = |ms| {
            of_run(
                run(1),
                "",
                &[alarm(AlarmLevel::Warning, AlarmKind::Stale, ms)],
            )
        };
        let (_, known) = shakes(None, &since(5), 0);
        assert!(shakes(Some(known.clone()), &since(6), 0).0);
        let (gone, none) = shakes(Some(known), &[], 0);
        assert!(!gone);
        assert!(
            shakes(Some(none), &since(5), 0).0,
            "told again after it was away"
        );
    }
}
