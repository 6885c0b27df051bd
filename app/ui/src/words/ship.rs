//! What the ship's own pages say.

use super::Word;
use crate::time;
use procedure::{
    Change, Difference, Due, DueEvent, OnFault, RoundState, SettingBounds, SettingGroup, Skip,
};
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/ship.rs"));
}

/// Names what is done, before which a defect must be gone.
pub fn due_name(what: DueEvent) -> String {
    match what {
        DueEvent::Launch => super::DUE_LAUNCH,
        DueEvent::Anchoring => super::DUE_ANCHORING,
        DueEvent::Entry => super::DUE_ENTRY,
        DueEvent::Survey => super::DUE_SURVEY,
    }
    .to_string()
}

/// Names one of the invented people of a rehearsal.
pub fn who_plays(who: &str) -> String {
    let known = [PLAYS_HAND, PLAYS_SECOND, PLAYS_OFFICER, PLAYS_MASTER];
    let people = procedure::rehearsal::PEOPLE.iter().zip(known);
    let mut named = people.filter(|((name, _), _)| *name == who);
    named
        .next()
        .map_or_else(|| who.to_owned(), |(_, word)| word.to_owned())
}

/// Names what some settings are for.
pub const fn group(group: SettingGroup) -> Word {
    match group {
        SettingGroup::Windlass => GROUP_WINDLASS,
        SettingGroup::Water => GROUP_WATER,
        SettingGroup::Entry => GROUP_ENTRY,
        SettingGroup::Anchoring => GROUP_ANCHORING,
        SettingGroup::Rounds => GROUP_ROUNDS,
        SettingGroup::Program => GROUP_PROGRAM,
    }
}

/// Says until when a defect is accepted, and when that is past.
pub fn accepted(until_ms: i64, now_ms: i64) -> String {
    let when = time::date_clock(until_ms);
    if now_ms > until_ms {
        acceptance_past(&when)
    } else {
        accepted_until(&when)
    }
}

/// Says within which bounds a setting must lie.
pub fn out_of_bounds(bounds: &SettingBounds, unit: &str) -> String {
    let (least, most) = (bounds.least.to_string(), bounds.most.to_string());
    said::out_of_bounds(&least, &most, unit, bounds.source)
}

/// Says what is usual for a setting, and what is never taken.
pub fn bounds(bounds: &SettingBounds, unit: &str) -> String {
    let [from, to] = [bounds.usual_least, bounds.usual_most].map(|end| end.to_string());
    let [least, most] = [bounds.least, bounds.most].map(|end| end.to_string());
    usual_bounds(&from, &to, unit, &least, &most, bounds.source)
}

/// Says who put something in force, and when.
pub fn in_force(by: &str, at_ms: i64) -> String {
    format!("{by}, {}", time::date_clock(at_ms))
}

/// Says how a round stands.
pub fn round_state(state: RoundState) -> Word {
    match state {
        RoundState::Overdue => ROUND_OVERDUE,
        RoundState::NeverDone => ROUND_NEVER_DONE,
        RoundState::NotSet => ROUND_NOT_SET,
        RoundState::Due => ROUND_DUE,
        RoundState::Done => ROUND_DONE,
    }
}

/// Says how many rounds are overdue; nothing where none is.
pub fn overdue(overdue: usize, never_done: usize) -> Option<String> {
    let late = (overdue > 0).then(|| rounds_overdue(overdue));
    let never = (never_done > 0).then(|| rounds_never_done(never_done));
    match (late, never) {
        (Some(late), Some(never)) => Some(format!("{late}, {never}")),
        (late, never) => late.or(never),
    }
}

/// Says one difference.
pub fn difference(difference: &Difference) -> String {
    let place = difference
        .step
        .as_ref()
        .map_or_else(|| THE_WHOLE.into(), |step| step_named(&step.to_string()));
    match &difference.change {
        Change::Added { instruction } => step_added(&place, instruction),
        Change::Removed { instruction } => step_removed(&place, instruction),
        Change::Moved => step_moved(&place),
        Change::Changed { part, from, to } => {
            let said = |text: &str| {
                if text.is_empty() {
                    NOTHING_SAID.into()
                } else {
                    quoted(text)
                }
            };
            step_changed(&place, part, &said(to), &said(from))
        }
    }
}

/// Says what a fault does.
pub fn on_fault(on_fault: OnFault) -> Word {
    match on_fault {
        OnFault::Note => FAULT_NOTED,
        OnFault::Officer => FAULT_OFFICER,
        OnFault::Stop => FAULT_STOPS,
    }
}

/// Says who may leave a step out.
pub fn skip(skip: Skip) -> Word {
    match skip {
        Skip::Anyone => SKIP_ANYONE,
        Skip::Officer => SKIP_OFFICER,
        Skip::Never => SKIP_NEVER,
    }
}

/// Says how long a cable is and what stays inboard.
pub fn cable_total(total_m: f64, keep_m: f64) -> String {
    said::cable_total(&format!("{total_m:.1}"), &format!("{keep_m:.1}"))
}

/// Says a mark and its paints.
pub fn cable_mark(number: usize, paints: &str) -> String {
    if paints.is_empty() {
        mark_not_painted(&number.to_string())
    } else {
        format!("{number} {paints}")
    }
}

/// Says by when a defect must be gone.
pub fn due(due: Due) -> String {
    match due {
        Due::On { day } => due_on(&day.to_string()),
        Due::Before { what } => match what {
            DueEvent::Launch => DUE_BEFORE_LAUNCH,
            DueEvent::Anchoring => DUE_BEFORE_ANCHORING,
            DueEvent::Entry => DUE_BEFORE_ENTRY,
            DueEvent::Survey => DUE_BEFORE_SURVEY,
        }
        .into(),
    }
}
