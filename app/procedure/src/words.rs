//! Every word that the engine says to a person.

use crate::cable::side_word;
use crate::crew::Crew;
use crate::definition::{Need, NeedState, OnFault, Skip, Span};
use crate::event::{
    ConsentBy, DefectChange, Due, DueEvent, End, Event, Grows, LogEntry, MarkAt, Outcome, Severity,
};
use crate::gear::{ItemState, Service};
use crate::ids::PersonId;
use crate::view::Status;
use crate::{Decimal, library};

mod second;

pub(crate) use second::{DONE_SECOND_WANTED, SECOND_WANTED, second_first, without_second};

pub(crate) const DOES_NOT_APPLY: &str = "does not belong to this run";
pub(crate) const STOPPED: &str = "all work is stopped";
pub(crate) const NO_SUCH_POINT: &str = "the step has no such point";
pub(crate) const PHOTO: &str = "photograph taken";
pub(crate) const VOICE: &str = "a voice note";
pub(crate) const DONE: &str = "done";
pub(crate) const CLOCK_WRONG: &str =
    "its time lies ahead of this clock: one of the two is wrong, do it again";
pub(crate) const CONSENT_ENDED: &str = "the consent has run out";
pub(crate) const ENDED_BY_STOP: &str = "ended by the stop";
pub(crate) const NOT_STARTED: &str = "the time has not begun to run";
pub(crate) const NO_SPAN: &str = "no length of time is set, so it cannot pass";
pub(crate) const TIME_RUNS: &str = "the time runs";
pub(crate) const RETEST_FAILED: &str = "a later reading was out of limits";
pub(crate) const TIME_OVER: &str = "the result is too old: do it again";
pub(crate) const PEOPLE_OPEN: &str = "someone is inside, or went in since this was ticked";
pub(crate) const EXPIRED_AFTER_USE: &str = "no longer good, and all that stood on it is done";
pub(crate) const WAIT_OVER: &str = "the wait is over";
pub(crate) const ALONE: &str = "one person is inside alone";
pub(crate) const MAN_DOWN: &str = "man down: only the rescue team goes in";
pub(crate) const ENDED_BY_RESCUE: &str = "ended by a man down";
pub(crate) const NOBODY_ATTENDS: &str = "nobody attends at the hatch";
pub(crate) const CLOCKS_DIFFER: &str = "entries lie ahead of this clock: a device's clock is wrong";
pub(crate) const AFTER_CLOSE: &str = "entries came in after the run was closed";
pub(crate) const DENIED: &str = "a consent heard by radio was denied by who was named";

/// Says a reading that was out of limits, which a better one has taken the place of.
pub(crate) fn was_out(said: &str) -> String {
    format!("{said}. Read better since; no officer has said that they saw it")
}

pub(crate) const READ_IN_RUN: &str = "by what this run reads first";
pub(crate) const NO_DATE: &str = "is no date: type year, month and day, such as 20270131";
pub(crate) const PAST: &str = "is past";
pub(crate) const DATE_LIMIT: &str = "a date that is not past: year, month, day";

pub(crate) fn out_of_service(gear: &str, defect: &str) -> String {
    format!(
        "{gear} out of service ({defect}): the defect is put right first, or the master accepts it with a restriction"
    )
}

pub(crate) const TOO_FEW_GOOD: &str = "fewer are good than must be";

pub(crate) fn not_asked_for(item: &str) -> String {
    format!("{item} is not one that is asked for")
}

pub(crate) fn due_first(defect: &str) -> String {
    format!("the master wants this gone first: {defect}")
}

pub(crate) fn due_past(due: Due, defect: &str) -> String {
    format!("{}: {defect}", self::due(due))
}

pub(crate) fn accepted_past(defect: &str) -> String {
    format!("accepted until a time that is past: {defect}")
}

pub(crate) fn past_its_date(gear: &str, because: &str) -> String {
    format!("{gear} is past its date: {because}")
}

pub(crate) fn waits_for(instruction: &str) -> String {
    format!("first: {instruction}")
}

pub(crate) fn put_right_first(instruction: &str, fault: &str) -> String {
    format!("put right first: {instruction} (not so: {fault})")
}

pub(crate) fn question_first(instruction: &str) -> String {
    format!("the officer must first answer a question about: {instruction}")
}

pub(crate) fn no_longer_good(instruction: &str) -> String {
    format!("it stood on what has changed or is no longer good: {instruction}")
}

pub(crate) fn time_is_up(instruction: &str) -> String {
    format!("the time is up: {instruction}")
}

pub(crate) fn rescuers(names: &[&str]) -> String {
    format!(
        "man down: {} inside under breathing apparatus; nobody else goes in",
        names.join(", ")
    )
}

pub(crate) fn disputed(who: &str) -> String {
    format!(
        "is {who} in or out? One phone says out, and that does not count: look, and count {who} as inside until seen"
    )
}

pub(crate) fn still_inside(who: &str) -> String {
    format!("{who} is still inside")
}

pub(crate) fn air_out(wrong: &[String]) -> String {
    format!(
        "the last reading is out of limits ({}); a good one comes first",
        wrong.join("; ")
    )
}

pub(crate) fn step_open(instruction: &str, state: &str) -> String {
    format!("{instruction} ({state})")
}

pub(crate) fn refused(by: &str) -> String {
    format!("refused by {by}")
}

pub(crate) fn consent(by: &str, by_radio: bool, awaiting: bool) -> String {
    match (by_radio, awaiting) {
        (true, true) => format!("consent heard by radio from {by}, not yet countersigned"),
        (true, false) => format!("consent heard by radio from {by}, countersigned"),
        (false, _) => format!("consent by {by}"),
    }
}

pub(crate) fn partly_read(read: usize, all: usize) -> String {
    format!("{read} of {all} read")
}

/// Lists people as they were named.
pub(crate) fn names(who: &[PersonId]) -> String {
    let names: Vec<&str> = who.iter().map(PersonId::as_str).collect();
    names.join(", ")
}

pub(crate) fn too_few_named(names: &str, at_least: u32) -> String {
    format!("{names}: at least {at_least} are to be named")
}

pub(crate) fn counts_differ(count: u32, other: u32, of: &str) -> String {
    format!("{count} {of} do not match the {other} counted before")
}

pub(crate) fn need(need: &Need) -> String {
    match &need.state {
        NeedState::NoneOpen => format!("a run of '{}' is still open", need.procedure),
        NeedState::ClosedWithin(span) => {
            format!(
                "not completed within {1}: {0}",
                called(&need.procedure),
                self::span(span)
            )
        }
    }
}

pub(crate) fn not_done(reason: &str, passed: bool, skip: Skip) -> String {
    match (passed, skip) {
        (true, _) => format!("not done: {reason}"),
        (false, Skip::Never) => format!("not done: {reason}; this step can never be left out"),
        (false, _) => format!("not done: {reason}; the officer must let the work go on"),
    }
}

pub(crate) fn fault(text: &str, on_fault: OnFault, passed: bool) -> String {
    match (passed, on_fault) {
        (true, _) => format!("not so: {text}; the work goes on"),
        (false, OnFault::Stop) => format!("not so: {text}; put it right, nobody can go past it"),
        (false, _) => format!("not so: {text}; put it right, or the officer lets the work go on"),
    }
}

pub(crate) fn position(lat: Decimal, lon: Decimal, accuracy: Option<Decimal>) -> String {
    match accuracy {
        Some(metres) => format!("{lat}°, {lon}°, within {metres} m"),
        None => format!("{lat}°, {lon}°, typed by hand"),
    }
}

/// Returns what a procedure is called in a sentence: its title in the library, or its short name as words.
pub(crate) fn called(slug: &str) -> String {
    library::title(slug).map_or_else(|| slug.replace('-', " "), str::to_owned)
}

/// A run has as many entries as it is to have.
pub(crate) const FULL: &str = "This run has as many entries as it may have. Close it and begin another for the work that goes on.";

/// Says that a run has more entries than count.
pub(crate) fn beyond(entries: usize) -> String {
    format!(
        "This run has {entries} entries more than can be worked with. They are kept and do not count. Close it and \
         begin another."
    )
}

/// Says how a step stands.
pub(crate) fn status(status: &Status) -> String {
    match status {
        Status::ToDo => "to do".to_owned(),
        Status::Waiting(because) => format!("waiting: {because}"),
        Status::Held => "waiting for consent".to_owned(),
        Status::Done => DONE.to_owned(),
        Status::OutOfLimits => "out of limits".to_owned(),
        Status::Stale => "stale".to_owned(),
        Status::NotDone(reason) => format!("not done: {reason}"),
        Status::NotSo(text) => format!("not so: {text}"),
    }
}

/// Says a length of time.
pub(crate) fn span(span: &Span) -> String {
    match span {
        Span::Fixed(ms) => duration(*ms),
        Span::Setting(key) | Span::Computed(key) => {
            let words = crate::Settings::words(key);
            words.map_or_else(
                || format!("the time set as '{key}'"),
                |words| format!("the time set ({words})"),
            )
        }
    }
}

/// Says a number of ms in its largest even unit.
pub(crate) fn duration(ms: i64) -> String {
    let units = [
        (86_400_000, "d"),
        (3_600_000, "h"),
        (60_000, "min"),
        (1_000, "s"),
    ];
    let unit = units.iter().find(|(size, _)| ms != 0 && ms % size == 0);
    unit.map_or_else(
        || format!("{} s", ms / 1_000),
        |(size, name)| format!("{} {name}", ms / size),
    )
}

pub(crate) const fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Watch => "to be watched",
        Severity::Restricted => "restricted use",
        Severity::OutOfService => "out of service",
        Severity::Danger => "danger to people",
    }
}

const fn grows(grows: Grows) -> &'static str {
    match grows {
        Grows::UpAndDown => "up and down",
        Grows::ShortStay => "short stay",
        Grows::Medium => "medium stay",
        Grows::LongStay => "long stay",
        Grows::Slack => "slack",
        Grows::UnderTheBow => "under the bow",
        Grows::Aweigh => "aweigh",
    }
}

const fn strain(strain: u8) -> &'static str {
    match strain {
        0 => "slack",
        1 => "light",
        2 => "moderate",
        3 => "heavy",
        _ => "too heavy",
    }
}

const fn mark_at(at: MarkAt) -> &'static str {
    match at {
        MarkAt::Gypsy => "at the gypsy",
        MarkAt::OnDeck => "on deck",
        MarkAt::Hawse => "at the hawse",
        MarkAt::Water => "at the water's edge",
    }
}

/// Says an entry of a log as it would be called by radio.
pub(crate) fn log(entry: &LogEntry) -> String {
    let mut parts = Vec::new();
    parts.extend(entry.side.map(|side| format!("{} cable", side_word(side))));
    if let Some(mark) = entry.mark {
        let at = mark_at(entry.at.unwrap_or(MarkAt::Gypsy));
        parts.push(format!("{mark} shackles {at}"));
    }
    if let Some(lead) = entry.lead_oclock {
        parts.push(format!("leading {lead} o'clock"));
    }
    parts.extend(entry.grows.map(|how| grows(how).to_owned()));
    parts.extend(entry.strain.map(|how| format!("weight {}", strain(how))));
    parts.extend(
        entry
            .readings
            .iter()
            .map(|(point, value)| format!("{point} {value}")),
    );
    parts.extend(entry.remark.clone());
    if parts.is_empty() {
        "all well".to_owned()
    } else {
        parts.join(", ")
    }
}

/// Says what happened, with people by their names.
pub(crate) fn event(event: &Event, said: Option<&str>, crew: &Crew) -> String {
    match event {
        Event::Start { slug, .. } => format!("started: {}", called(slug)),
        Event::Done {
            outcome: Outcome::Names { who },
            ..
        } => who
            .iter()
            .map(|who| crew.name(who))
            .collect::<Vec<_>>()
            .join(", "),
        Event::Done { outcome, .. } => outcome_words(outcome, said),
        Event::NotDone { reason, .. } => format!("not done: {reason}"),
        Event::NotSo {
            text,
            severity: how,
            ..
        } => format!("not so ({}): {text}", severity(*how)),
        Event::Consent {
            granted,
            how,
            words,
            ..
        } => {
            let what = if *granted { "consent" } else { "no consent" };
            let from = match how {
                ConsentBy::Network => String::new(),
                ConsentBy::Radio { from } => {
                    format!(", heard by radio from {}", crew.name(from))
                }
            };
            with(format!("{what}{from}"), words)
        }
        Event::Countersign {
            granted: true,
            words,
            ..
        } => with("countersigned".to_owned(), words),
        Event::Countersign {
            granted: false,
            words,
            ..
        } => with("denied the consent that was heard".to_owned(), words),
        Event::Second { .. } => "signed as second person".to_owned(),
        Event::StrikeOut { reason, .. } => format!("struck out an entry: {reason}"),
        Event::GoOn { reason, .. } => format!("let the work go on: {reason}"),
        Event::Log { entry, .. } => log(entry),
        Event::In { who, .. } if event.is_rescue() => {
            let who = crew.name(who);
            format!("{who} in to the rescue, under breathing apparatus")
        }
        Event::In { who, .. } => format!("{} in", crew.name(who)),
        Event::Out { who, .. } => format!("{} out", crew.name(who)),
        Event::Attend { who, .. } => format!("{} attends at the hatch", crew.name(who)),
        Event::Stop { cause } => format!("work stopped: {cause}"),
        Event::Resume { reason } => format!("work may start again: {reason}"),
        Event::AnswerQuestion { stands, reason, .. } => {
            let what = if stands.is_some() {
                "it stands"
            } else {
                "to be done again"
            };
            format!("answered a question, {what}: {reason}")
        }
        Event::Close {
            end: End::Completed,
            remark,
        } => with("closed".to_owned(), remark),
        Event::Close {
            end: End::BrokenOff,
            remark,
        } => with("broken off".to_owned(), remark),
        Event::Defect { change, text, .. } => with(defect_change(change, crew), text),
        Event::Message { text, photo, .. } if text.trim().is_empty() && photo.is_some() => {
            format!("message: {PHOTO}")
        }
        Event::Message { text, voice, .. } if text.trim().is_empty() && voice.is_some() => {
            format!("message: {VOICE}")
        }
        Event::Message { text, .. } => format!("message: {text}"),
        Event::Read { .. } => "has read a message".to_owned(),
        Event::Acknowledge { .. } => "has seen the alarm".to_owned(),
    }
}

fn with(what: String, words: &str) -> String {
    if words.trim().is_empty() {
        what
    } else {
        format!("{what}: {words}")
    }
}

fn outcome_words(outcome: &Outcome, said: Option<&str>) -> String {
    let said = said.map(str::to_owned);
    match outcome {
        Outcome::Confirmed => DONE.to_owned(),
        Outcome::Reading { point, value } => said.unwrap_or_else(|| format!("{point} {value}")),
        Outcome::Chosen { option } => said.unwrap_or_else(|| option.clone()),
        Outcome::Counted { count } => said.unwrap_or_else(|| count.to_string()),
        Outcome::Item { item } => said.unwrap_or_else(|| item.clone()),
        Outcome::Names { who } => said.unwrap_or_else(|| names(who)),
        Outcome::Each { item, found } => {
            said.unwrap_or_else(|| format!("{item}: {}", found.words()))
        }
        Outcome::Position {
            lat_deg,
            lon_deg,
            accuracy_m,
        } => position(*lat_deg, *lon_deg, *accuracy_m),
        Outcome::Text { text } => text.clone(),
        Outcome::Photo { .. } => PHOTO.to_owned(),
    }
}

/// Says what became of a defect.
pub(crate) fn defect_change(change: &DefectChange, crew: &Crew) -> String {
    match change {
        DefectChange::Noted => "noted".to_owned(),
        DefectChange::HandedOver { to } => format!("handed over to {}", crew.name(to)),
        DefectChange::Accepted { .. } => "accepted for a time".to_owned(),
        DefectChange::Closed => "put right and closed".to_owned(),
        DefectChange::Due { due } => self::due(*due),
    }
}

/// Says by when a defect must be gone.
pub(crate) fn due(due: Due) -> String {
    match due {
        Due::On { day } => format!("to be gone by {day}"),
        Due::Before { what } => format!("to be gone before {}", due_event(what)),
    }
}

const fn due_event(what: DueEvent) -> &'static str {
    match what {
        DueEvent::Launch => "launch",
        DueEvent::Anchoring => "the next anchoring",
        DueEvent::Entry => "the next entry",
        DueEvent::Survey => "the next survey",
    }
}

/// Says which item it is, and how far it may be used.
pub(crate) fn item(code: &str, state: &ItemState) -> String {
    match &state.service {
        Service::Restricted(words) => format!("{} ({code}), restricted: {words}", state.card.name),
        _ => format!("{} ({code})", state.card.name),
    }
}

/// Says that an item was good, and is not any more.
pub(crate) fn not_good_since(words: &str) -> String {
    format!("{words}; choose another, and do again what was done with it")
}

/// Says what the officer is asked.
pub(crate) fn question(about: crate::questions::About, instruction: &str) -> String {
    match about {
        crate::questions::About::Contradiction => {
            format!("two entries made apart do not agree: {instruction}")
        }
        crate::questions::About::Sequence => {
            format!("done before what it waits for, does it stand? {instruction}")
        }
    }
}
