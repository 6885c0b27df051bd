//! How many entries a run can be worked with. None is ever refused or lost for it: what comes beyond is kept, sent on
//! and counted, and the run says in words that it is so.

use std::collections::BTreeSet;

use crate::event::{Event, RecordedEvent};

/// A run that has so many entries takes no more of the usual work: it is closed, and another one begun.
pub const MOST_ENTRIES: usize = 2_000;
/// So many entries of a run count: more than [`MOST_ENTRIES`], as devices that do not hear each other go on.
pub const MOST_COUNTED: usize = 3_000;

/// Says whether an event can bear on more than the step that it names; of these there are few.
pub(crate) fn bears_on_run(event: &Event) -> bool {
    match event {
        Event::Start { .. }
        | Event::Countersign { .. }
        | Event::Second { .. }
        | Event::In { .. }
        | Event::Out { .. }
        | Event::Attend { .. }
        | Event::Stop { .. }
        | Event::Resume { .. }
        | Event::Close { .. }
        | Event::Message { .. }
        | Event::Read { .. }
        | Event::Acknowledge { .. } => true,
        Event::Done { .. }
        | Event::NotDone { .. }
        | Event::NotSo { .. }
        | Event::Consent { .. }
        | Event::StrikeOut { .. }
        | Event::GoOn { .. }
        | Event::Log { .. }
        | Event::AnswerQuestion { .. }
        | Event::Defect { .. } => false,
    }
}

/// Chooses the events that count of a run that has too many, each named once: what bears on the whole of it first, as
/// stops and people in a space do, then the oldest. The choice depends on the set of events alone. Returns how many
/// are left out too.
pub(crate) fn counted(events: Vec<&RecordedEvent>) -> (Vec<&RecordedEvent>, usize) {
    let beyond = events.len().saturating_sub(MOST_COUNTED);
    if beyond == 0 {
        return (events, 0);
    }
    let mut ranked = events;
    ranked.sort_by_key(|stamped| (!bears_on_run(&stamped.event), stamped.hlc, stamped.id));
    ranked.truncate(MOST_COUNTED);
    (ranked, beyond)
}

/// Says whether an event may be written in a run that is full: what ends it, keeps people safe, or puts right what
/// stands there.
pub(crate) fn may_be_written_in_a_full_run(event: &Event) -> bool {
    bears_on_run(event)
        || matches!(
            event,
            Event::StrikeOut { .. }
                | Event::AnswerQuestion { .. }
                | Event::Defect { .. }
                | Event::NotSo { .. }
                | Event::NotDone { .. }
        )
}

/// Returns the events each once, by identity.
pub(crate) fn each_once(events: &[RecordedEvent]) -> Vec<&RecordedEvent> {
    let mut known = BTreeSet::new();
    let first = events.iter().filter(|stamped| known.insert(stamped.id));
    first.collect()
}
