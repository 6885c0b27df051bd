//! No sequence of events, however odd, takes a procedure of the library to a state that could hurt someone.

use std::sync::OnceLock;

use procedure::cable::Side;
use procedure::rehearsal::{self, Answers, within};
use procedure::*;
use proptest::prelude::*;

use super::faults::not_so;
use super::invariants::{PEOPLE, advance, sees, struck};
use super::scene::*;
use super::walk::walk_from;

/// One move of someone: what, who, on which device, at which step or event, and what the clock does.
type Move = (u8, u8, u8, u8, u8);

/// What is done at a step, or across it.
fn event(scene: &Scene, view: &RunView, what: u8, at: u8) -> Event {
    let pick = usize::from(at);
    // Every other move is at a step whose turn it is.
    let next = view.next.get(pick % view.next.len().max(1));
    let any = &view.steps[pick % view.steps.len()].id;
    let id = next.filter(|_| pick % 2 == 0).unwrap_or(any);
    let step = view
        .steps
        .iter()
        .find(|step| step.id == *id)
        .expect("it is one");
    let recent = scene.events.len() - 1 - pick % scene.events.len().min(12);
    let target = scene.events[recent].id;
    let who = PEOPLE[pick % PEOPLE.len()];
    match what % 30 {
        0 => not_so(id.as_str(), Severity::Restricted),
        1 => goes_on(id.as_str()),
        2 => Event::NotDone {
            step: id.clone(),
            reason: "no".into(),
        },
        3..=6 => Event::Second { event: target },
        7 => Event::StrikeOut {
            event: target,
            reason: "wrong".into(),
        },
        8 if pick.is_multiple_of(3) => Event::Stop {
            cause: "all stop".into(),
        },
        9 => Event::Resume {
            reason: "well again".into(),
        },
        10 => Event::Close {
            end: [End::Completed, End::BrokenOff][pick % 2],
            remark: "over".into(),
        },
        12 if pick.is_multiple_of(3) => goes_to_the_rescue("inside", who),
        11 | 12 => goes_in("inside", who),
        13 => comes_out("inside", who),
        14 => Event::Attend {
            step: "inside".into(),
            who: who.into(),
        },
        15 => Event::Log {
            step: id.clone(),
            entry: LogEntry {
                readings: [
                    vec![("o2".into(), Decimal::whole(21))],
                    vec![("o2".into(), Decimal::whole(19))],
                    Vec::new(),
                ][pick % 3]
                    .clone(),
                side: [None, Some(Side::Port), Some(Side::Starboard)][pick / 3 % 3],
                ..LogEntry::default()
            },
        },
        20 if pick.is_multiple_of(2) => Event::Message {
            step: None,
            text: "well".into(),
            photo: None,
            voice: None,
        },
        20 => Event::Read { event: target },
        19 => view.alarms.first().map_or_else(
            || Event::Acknowledge {
                kind: "no such".into(),
                step: None,
                since_ms: 0,
            },
            Alarm::acknowledge,
        ),
        16 => heard(id.as_str(), who),
        17 => Event::Countersign {
            event: target,
            granted: at.is_multiple_of(2),
            words: String::new(),
        },
        18 => Event::AnswerQuestion {
            question: view
                .questions
                .first()
                .map_or_else(String::new, |q| q.id.clone()),
            stands: at.is_multiple_of(2).then_some(target),
            reason: "so".into(),
        },
        _ => asked(view, step, at),
    }
}

/// Answers mostly right, sometimes wrong or otherwise than before, by a number that chance gave.
struct Chance(u8);

impl Chance {
    fn is_wrong(&self) -> bool {
        self.0 % 8 == 7
    }
}

impl Answers for Chance {
    fn reading(&self, point: &PointView) -> Decimal {
        if self.is_wrong() {
            Decimal::whole(-99)
        } else {
            within(&point.limits)
        }
    }

    fn option(&self, step: &StepView) -> String {
        step.options[usize::from(self.0) % step.options.len()]
            .key
            .clone()
    }

    fn count(&self, _step: &StepView, _least: u32) -> u32 {
        4 + u32::from(self.is_wrong())
    }

    fn text(&self, _step: &StepView) -> String {
        let text = if self.is_wrong() {
            "otherwise"
        } else {
            "as ordered"
        };
        text.to_owned()
    }

    fn photo(&self) -> Option<[u8; 32]> {
        Some([7; 32])
    }

    fn consent(&self) -> (bool, ConsentBy) {
        (!self.is_wrong(), ConsentBy::Network)
    }

    fn entries(&self, _step: &StepView) -> Vec<LogEntry> {
        Vec::new()
    }

    fn people(&self) -> (PersonId, Vec<PersonId>) {
        (MAX.into(), Vec::new())
    }
}

/// What a step asks for: one of the events that work it, the last one where there is only one that ends it.
fn asked(view: &RunView, step: &StepView, at: u8) -> Event {
    let mut events = rehearsal::work(view, step, &Chance(at));
    if step.points.len() > 1 && !events.is_empty() {
        return events.swap_remove(usize::from(at / 8) % events.len());
    }
    events.pop().unwrap_or_else(|| Event::Done {
        step: step.id.clone(),
        outcome: Outcome::Confirmed,
    })
}

fn assert_safe(scene: &Scene, now: i64) -> Result<(), TestCaseError> {
    let view = scene.state().view(now);
    prop_assert_eq!(view.history.len(), scene.events.len(), "an entry was lost");
    for (step, shown) in scene.procedure.steps().iter().zip(&view.steps) {
        if shown.passed {
            assert_rightly_passed(scene, &view, step, shown)?;
        }
    }
    assert_nobody_is_forgotten(scene, &view)?;
    assert_meter_in_date(&view, now)?;
    assert_faults_hold_up(scene, &view)
}

fn assert_rightly_passed(
    scene: &Scene,
    view: &RunView,
    step: &Step,
    shown: &StepView,
) -> Result<(), TestCaseError> {
    let id = &step.id;
    if step.on_fault == OnFault::Stop && step.skip == Skip::Never {
        prop_assert_eq!(&shown.status, &Status::Done, "{}: gone past", id);
    }
    if step.second_may_be_later() && shown.status == Status::Done {
        let is_signed = matches!(shown.second, SecondView::Signed { .. });
        prop_assert!(is_signed || shown.second_later, "{}: nobody is asked", id);
    }
    if step.second && !step.second_may_be_later() && shown.status == Status::Done {
        let two = scene.events.iter().any(|tick| {
            matches!(&tick.event, Event::Done { step, .. } if step == id)
                && scene.events.iter().any(|second| {
                    matches!(second.event, Event::Second { .. }) && second.person != tick.person
                })
        });
        prop_assert!(two, "{}: one person signed for two", id);
    }
    let Some(hold) = step.kind.consent() else {
        return Ok(());
    };
    let event = scene
        .events
        .iter()
        .find(|event| Some(event.id) == shown.event);
    let Some((event, how)) = event.and_then(|event| match &event.event {
        Event::Consent {
            granted: true, how, ..
        } => Some((event, how)),
        _ => None,
    }) else {
        return Err(TestCaseError::fail(format!("{id}: passed without consent")));
    };
    prop_assert!(!struck(scene, event), "{}: it was struck out", id);
    let giver = match how {
        ConsentBy::Network => &event.person,
        ConsentBy::Radio { from } => {
            prop_assert!(hold.radio && *from != event.person, "{}: not by radio", id);
            from
        }
    };
    prop_assert!(
        roles(giver.as_str()).may_act_as(hold.consent),
        "{}: not theirs to give",
        id
    );
    for other in &step.stands_on {
        let below = step_in(view, other.as_str());
        prop_assert!(
            !below.applies || below.passed,
            "{id} stands on {other}: {}",
            below.words
        );
        let known = below
            .event
            .and_then(|id| scene.events.iter().find(|e| e.id == id));
        // What answers otherwise than the consent knew is another thing than was consented to.
        if let (Some(known), true) = (known, !below.kind.options().is_empty()) {
            let same = scene
                .events
                .iter()
                .any(|earlier| earlier.event == known.event && sees(scene, event, earlier.id));
            prop_assert!(
                same || earlier_left(scene, event, other),
                "{id}: {other} was chosen anew"
            );
        }
    }
    Ok(())
}

/// Whether a step had been left undone, or reported, as the consent knew.
fn earlier_left(scene: &Scene, consent: &RecordedEvent, step: &StepId) -> bool {
    scene.events.iter().any(|event| {
        matches!(&event.event, Event::NotDone { step: of, .. } | Event::NotSo { step: of, .. } if of == step)
            && sees(scene, consent, event.id)
    })
}

fn assert_nobody_is_forgotten(scene: &Scene, view: &RunView) -> Result<(), TestCaseError> {
    let left = scene.events.iter().any(|entry| {
        let Event::In { who, .. } = &entry.event else {
            return false;
        };
        !scene.events.iter().any(|out| {
            matches!(&out.event, Event::Out { who: other, .. } if other == who)
                && sees(scene, out, entry.id)
                && !struck(scene, out)
        })
    });
    // Another procedure may have a step of that name at which nobody goes in.
    let is_entry = |step: &StepView| step.id.as_str() == "inside" && step.kind.people().is_some();
    if !left || !view.steps.iter().any(is_entry) {
        return Ok(());
    }
    prop_assert!(view.closed.is_none(), "someone is left inside a closed run");
    prop_assert!(!view.inside.is_empty() && !step_in(view, "inside").passed);
    if !step_in(view, "permit").passed || view.attendants.is_empty() || view.stopped.is_some() {
        let danger = view
            .alarms
            .iter()
            .any(|a| a.kind == AlarmKind::Inside && a.level == AlarmLevel::Danger);
        let all_rescue = view.inside.iter().all(|one| one.rescuer);
        prop_assert!(
            danger || all_rescue,
            "people are inside who may not be, and nobody is told"
        );
    }
    let told = view.alarms.iter().any(|a| a.kind == AlarmKind::ManDown);
    let rescue = view.inside.iter().any(|one| one.rescuer);
    prop_assert_eq!(
        told,
        rescue,
        "the rescue team is inside, and nobody is told"
    );
    Ok(())
}

/// No entry on a cable that is not named, and none that is empty. Who calls people inside says no more than that.
fn assert_says_whose(scene: &Scene) -> Result<(), TestCaseError> {
    let Some(Event::Log { step, entry }) = scene.events.last().map(|last| &last.event) else {
        return Ok(());
    };
    let of = scene.procedure.step(step);
    let kind = of.map(|step| &step.kind);
    let is_call = kind.is_some_and(|kind| kind.people().is_some());
    prop_assert!(is_call || !entry.is_empty(), "{}: says nothing", step);
    if let Some(Kind::Log(log)) = kind
        && log.cable.is_some()
    {
        let side = entry.side.map(procedure::cable::side_word);
        prop_assert!(side.is_some(), "{}: nobody's cable", step);
        if let Some(kind::LogSide::Chosen(choice)) = &log.side {
            let chosen = step_in(&scene.view(), choice.as_str()).answer;
            prop_assert_eq!(side, chosen.as_deref(), "{}: another's cable", step);
        }
    }
    Ok(())
}

/// No permit with a meter whose date is past, or that is no date.
fn assert_meter_in_date(view: &RunView, now: i64) -> Result<(), TestCaseError> {
    let is_given = |id: &str| {
        view.steps
            .iter()
            .any(|step| step.id.as_str() == id && step.passed)
    };
    // Only the entry itself asks for a meter.
    let asks = view
        .steps
        .iter()
        .any(|step| step.id.as_str() == "meter-date" && step.applies);
    if !is_given("permit") || !asks {
        return Ok(());
    }
    let today = seamanship::time::UtcMs(now).to_iso();
    let today: String = today
        .chars()
        .take(10)
        .filter(char::is_ascii_digit)
        .collect();
    let read = step_in(view, "meter-date")
        .points
        .first()
        .and_then(|point| point.value);
    let until = read.map(|value| value.to_string()).unwrap_or_default();
    prop_assert!(
        until.len() == 8 && until >= today,
        "a permit with a meter until {}",
        until
    );
    Ok(())
}

/// While a fault stands at which the work stops, nothing below it can be worked but what makes safe and what runs.
fn assert_faults_hold_up(scene: &Scene, view: &RunView) -> Result<(), TestCaseError> {
    let steps = scene.procedure.steps();
    let fault = steps.iter().zip(&view.steps).position(|(step, shown)| {
        step.on_fault == OnFault::Stop
            && shown.applies
            && matches!(shown.status, Status::NotSo(_))
            && !shown.passed
    });
    let Some(fault) = fault else { return Ok(()) };
    for (step, shown) in steps.iter().zip(&view.steps).skip(fault + 1) {
        let runs_on = step.when_stopped || matches!(step.kind, Kind::Log { .. });
        prop_assert!(runs_on || !shown.open, "{}: open past a fault", step.id);
        prop_assert!(
            step.when_stopped || !view.holds.contains(&step.id),
            "{}: asked",
            step.id
        );
    }
    Ok(())
}

/// A procedure of the library, rightly worked so many hundredths of the way; every other time on a ship that has a register.
fn worked(which: usize, hundredths: usize) -> Scene {
    static WHOLE: [OnceLock<Scene>; 64] = [const { OnceLock::new() }; 64];
    static ALL: OnceLock<Vec<Procedure>> = OnceLock::new();
    let all = ALL.get_or_init(library::all);
    let (at, has_gear) = (which / 2 % all.len(), which % 2 == 1);
    let whole = WHOLE[at * 2 + usize::from(has_gear)].get_or_init(|| {
        let mut scene = Scene::new(all[at].clone());
        if has_gear {
            scene.gear = super::each::register(None);
        }
        walk_from(scene, &[])
    });
    let mut scene = whole.clone();
    scene.cut(1 + (scene.events.len() - 1) * hundredths / 100);
    scene
}

/// The places of the two that are worked furthest, on a ship without a register.
fn place_of(entry: bool) -> usize {
    let slug = ["letting-go", "locker-entry"][usize::from(entry)];
    let at = library::all().iter().position(|one| one.slug() == slug);
    at.expect("it is in the library") * 2
}

#[test]
fn every_procedure_has_its_place_among_those_that_are_tried() {
    assert!(library::all().len() * 2 <= 64);
}

/// Writes what nobody would, on three devices that hear each other now and then: it stays safe, now and later.
fn stays_safe(mut scene: Scene, moves: Vec<Move>) -> Result<(), TestCaseError> {
    for device in [2, 3] {
        scene.sync(1, device);
    }
    for (what, who, device, at, clock) in moves {
        let device = 1 + device % 3;
        advance(&mut scene, device, clock);
        if what % 4 == 3 {
            scene.sync(1 + at % 3, device);
        }
        let event = event(&scene, &scene.view(), what, at);
        scene.writes(device, PEOPLE[usize::from(who) % PEOPLE.len()], event);
        assert_safe(&scene, scene.now)?;
    }
    for later in [-45 * MINUTE, 31 * MINUTE, 9 * HOUR, 500 * 24 * HOUR] {
        assert_safe(&scene, scene.now + later)?;
    }
    Ok(())
}

// Any procedure, with a register and without; each is worked from its beginning first.
proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_odd_sequence_makes_a_library_procedure_unsafe(
        which in 0_usize..64,
        part in 0_usize..100,
        moves in prop::collection::vec(any::<Move>(), 1..12),
    ) {
        stays_safe(worked(which, part), moves)?;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_odd_sequence_makes_an_entry_or_letting_go_unsafe(
        entry in any::<bool>(),
        part in 0_usize..100,
        moves in prop::collection::vec(any::<Move>(), 1..24),
    ) {
        stays_safe(worked(place_of(entry), part), moves)?;
    }

    #[test]
    fn whoever_asks_leave_works_a_library_procedure_in_its_order(
        entry in any::<bool>(),
        part in 0_usize..100,
        moves in prop::collection::vec(any::<Move>(), 1..48),
    ) {
        let mut scene = worked(place_of(entry), part);
        for (what, who, device, at, clock) in moves {
            let device = 1 + device % 2;
            scene.now += i64::from(clock % 4) * MINUTE;
            scene.sync(3 - device, device);
            let event = event(&scene, &scene.view(), what, at);
            let who = PEOPLE[usize::from(who) % PEOPLE.len()];
            let logged = matches!(event, Event::Log { .. });
            if scene.does(device, who, event).is_ok() {
                assert_safe(&scene, scene.now)?;
                if logged {
                    assert_says_whose(&scene)?;
                }
            }
        }
        for line in scene.view().history {
            prop_assert!(!line.without_right && !line.out_of_sequence, "{line:#?}");
        }
    }
}
