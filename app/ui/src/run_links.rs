//! A run's steps as the links of a chain.

use crate::parts::{ChainLink, LinkState, Severity};
use crate::{time, words};
use procedure::{ConsentBy, Event, Outcome, PersonId, RunView, Status, StepView};

/// Finds the name of a person; their id where nobody knows it.
pub fn name_in(crew: &[journal::Person], person: &PersonId) -> String {
    crew.iter()
        .find(|member| member.id == person.as_str())
        .map_or_else(|| person.as_str().to_owned(), |member| member.name.clone())
}

/// Returns what a step's link shows; `next` is the step in the gypsy.
pub fn link_state(step: &StepView, is_next: bool) -> LinkState {
    match &step.status {
        Status::Done => LinkState::Done,
        Status::Held => LinkState::Hold,
        Status::OutOfLimits => LinkState::OutOfLimits,
        Status::Stale if step.spent => LinkState::Done,
        Status::Stale => LinkState::Stale,
        Status::NotDone(_) => LinkState::NotDone,
        Status::NotSo(_) => LinkState::Fault,
        Status::ToDo | Status::Waiting(_) if is_next => LinkState::Next,
        Status::ToDo | Status::Waiting(_) => LinkState::Open,
    }
}

/// Returns the links of a run, in its order; steps that do not apply are left out.
pub fn links(view: &RunView, crew: &[journal::Person]) -> Vec<ChainLink> {
    links_with(view, crew, time::clock)
}

/// Returns the same for a page that shows runs of any day: each time with its date.
pub fn dated_links(view: &RunView, crew: &[journal::Person]) -> Vec<ChainLink> {
    links_with(view, crew, time::date_clock)
}

fn links_with(
    view: &RunView,
    crew: &[journal::Person],
    clock: fn(i64) -> String,
) -> Vec<ChainLink> {
    let next = view.next.first();
    view.steps
        .iter()
        .filter(|step| step.applies)
        .map(|step| ChainLink {
            id: step.id.as_str().to_owned(),
            state: link_state(step, next == Some(&step.id)),
            title: step.instruction.clone(),
            note: note_with(view, step, crew, clock),
        })
        .collect()
}

/// Returns who wrote down the consent of a step that was heard by radio; none where it was signed.
fn heard_by<'v>(view: &'v RunView, step: &StepView) -> Option<&'v PersonId> {
    let mut lines = view.history.iter();
    let line = lines.find(|line| Some(line.id) == step.event)?;
    let is_heard = matches!(
        line.event,
        Event::Consent {
            how: ConsentBy::Radio { .. },
            ..
        }
    );
    is_heard.then_some(&line.by)
}

/// Says what came of a step: its readings, who signed it and when, and what is wrong with it.
pub fn link_note(view: &RunView, step: &StepView, crew: &[journal::Person]) -> String {
    note_with(view, step, crew, time::clock)
}

fn note_with(
    view: &RunView,
    step: &StepView,
    crew: &[journal::Person],
    clock: fn(i64) -> String,
) -> String {
    let when = match (&step.by, step.at_ms) {
        (Some(from), Some(at)) if let Some(heard) = heard_by(view, step) => {
            words::heard_from(&name_in(crew, heard), &name_in(crew, from), &clock(at))
        }
        (Some(by), Some(at)) => format!("{}, {}", name_in(crew, by), clock(at)),
        _ => String::new(),
    };
    let values: Vec<String> = step
        .points
        .iter()
        .filter_map(|point| {
            let value = point.value.as_ref()?;
            Some(format!("{value} {}", point.unit).trim().to_owned())
        })
        .collect();
    let mut parts: Vec<String> = Vec::new();
    if !values.is_empty() {
        parts.push(values.join(" · "));
    }
    if !when.is_empty() {
        parts.push(when);
    }
    match &step.status {
        Status::NotDone(why) | Status::NotSo(why) => parts.push(why.clone()),
        _ => {}
    }
    if step.spent {
        parts.push(words::SPENT.to_owned());
    }
    if step.out_of_sequence {
        parts.push(words::OUT_OF_SEQUENCE.to_owned());
    }
    if step.second_later {
        parts.push(words::SECOND_STILL.to_owned());
    }
    parts.join(" · ")
}

/// Returns how much a defect weighs on the work.
pub fn defect_weight(severity: procedure::Severity) -> Severity {
    match severity {
        procedure::Severity::Watch => Severity::Note,
        procedure::Severity::Restricted => Severity::Repair,
        procedure::Severity::OutOfService | procedure::Severity::Danger => Severity::Stop,
    }
}

/// Returns the voice note that an event names.
pub fn voice_of(event: &Event) -> Option<[u8; 32]> {
    match event {
        Event::Message { voice, .. } => *voice,
        _ => None,
    }
}

/// Returns the photograph that an event names.
pub fn photo_of(event: &Event) -> Option<[u8; 32]> {
    match event {
        Event::Done {
            outcome: Outcome::Photo { hash },
            ..
        } => Some(*hash),
        Event::NotSo { photo, .. } | Event::Message { photo, .. } => *photo,
        _ => None,
    }
}
