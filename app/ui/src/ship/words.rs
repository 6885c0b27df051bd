//! Every sentence of the ship's own pages.

use crate::time;
use procedure::{Change, Difference, OnFault, RoundState, Skip};

pub const PROCEDURES: &str = "Procedures";
pub const PROCEDURES_BODY: &str = "The library that came with the program, each as this ship has it. A run keeps the procedure with which it was started.";
pub const PROCEDURE: &str = "Procedure";
pub const EDITION: &str = "Edition";
pub const IDENTITY: &str = "Identity";
pub const IN_FORCE: &str = "In force";
pub const LIBRARY: &str = "the library's";
pub const CARD: &str = "Card to print";
pub const PRINT: &str = "Print this page on A4: the card for the day the phone dies.";
pub const STEPS: &str = "Steps";
pub const DIFFERENCE: &str = "Otherwise than in the library";
pub const NO_DIFFERENCE: &str = "Nothing: it is the library's procedure word for word.";
pub const NOT_IN_LIBRARY: &str = "The library has no procedure of this name: it is the ship's own.";
pub const HISTORY: &str = "Published versions";
pub const NO_HISTORY: &str = "None yet: the library's procedure is in force.";
pub const CHANGED: &str = "What it changed";
pub const EDIT: &str = "Change the ship's copy";
pub const EDIT_BODY: &str = "A changed procedure holds for new runs only. Phones get it when they are next in range. Raise the edition, so that people can tell it from the one before.";
pub const TEXT: &str = "The procedure's file";
pub const SOUND: &str = "The file reads without a mistake.";
pub const SAME: &str = "It says the same as the procedure in force.";
pub const PUBLISH: &str = "Publish";
pub const ONLY_MASTER: &str = "Only the master publishes a procedure or changes a setting.";
pub const OWN_CAUTION: &str = "You answer for what you change here. Taking a step, a limit or a hold away can hurt someone; the ship's safety management system comes before this file.";
pub const ROUNDS: &str = "Rounds";
pub const ROUNDS_BODY: &str =
    "What is due at intervals, from the records alone. A run that was broken off does not count.";
pub const ROUND: &str = "Round";
pub const STANDING: &str = "How it stands";
pub const LAST: &str = "Last done";
pub const DUE: &str = "Due";
pub const NEVER: &str = "never, as far as the records go";
pub const START: &str = "Start it";
pub const UNDER_WAY: &str = "being worked";
pub const SETTINGS: &str = "The ship's settings";
pub const SETTINGS_BODY: &str = "Numbers on which published sources disagree, each with the source of its value. New runs follow a change; runs under way keep what they were started with.";
pub const DATES: &str = "Due by a date";
pub const DATES_BODY: &str = "Surveys and the like: a round that is done within these days meets its date; until then the date counts where it comes before the interval's end. UTC.";
pub const SET_DATE: &str = "Set a date";
pub const COUNTS_FROM: &str = "Counts from";
pub const DUE_ON: &str = "Due on";
pub const NO_DAY: &str = "Say both days.";
pub const DAYS_TURNED: &str = "It is due before it counts.";
pub const TAKE_DATE_OFF: &str = "Take this date off";
pub const CABLES: &str = "The cables";
pub const CABLES_BODY: &str = "The lengths of each cable from the anchor inboard, and how their joints are painted. The log at the bow names the marks by them, the bridge draws them.";
pub const CABLE_SIDE: &str = "Anchor";
pub const CABLE_MARKS: &str = "Lengths and marks";
pub const CABLE_UNKNOWN: &str =
    "Not described yet: the log counts nine lengths of 27.5 m, by number only.";
pub const CABLE_LINES: &str = "A line for each length from the anchor: metres, then the paints of the joint at its inboard end, for instance '27.5 white red'";
pub const CABLE_KEEP: &str = "Stays inboard, m";
pub const SETTING: &str = "Setting";
pub const VALUE: &str = "Value";
pub const SOURCE: &str = "Source";
pub const SET_BY: &str = "Confirmed";
pub const NOT_CONFIRMED: &str = "not confirmed by the master";
pub const CHANGE: &str = "Change";
pub const SOURCE_EDITION: &str = "Edition of the source, or who set it";
pub const PUT_IN_FORCE: &str = "Put in force";
pub const NO_NUMBER: &str = "The value is a number, for instance 20.9.";
pub const NO_SOURCE_GIVEN: &str = "Say where the number comes from.";

pub const DEFECTS: &str = "Defects";
pub const DEFECTS_BODY: &str = "Raised at a step, and open until put right and tried. An open defect stands on every step that works the gear it touches.";
pub const NO_DEFECTS: &str = "No defect is open";
pub const NO_DEFECTS_BODY: &str = "Raise one at the step where it shows, with 'Not so'.";
pub const PUT_RIGHT: &str = "Put right";
pub const DEFECT_OPEN: &str = "open";
pub const DEFECT_CLOSED: &str = "closed";
pub const NOTE: &str = "Note something";
pub const NOTE_WHAT: &str = "What more is known?";
pub const HAND_OVER: &str = "Hand over";
pub const TO_WHOM: &str = "To whom?";
pub const WHAT_IS_TO_BE_DONE: &str = "What is to be done?";
pub const ACCEPT: &str = "Accept for a time";
pub const UNTIL_DAY: &str = "Until the end of which day, UTC?";
pub const DAY_FIRST: &str = "Choose the day first.";
pub const MEANWHILE: &str = "What may be done with it meanwhile, and what not?";
pub const CLOSE_DEFECT: &str = "Put right and tried";
pub const CLOSE_WHAT: &str = "What was done, and how was it tried?";

/// Says to whom a defect was handed over.
pub fn handed_to(name: &str) -> String {
    format!("handed over to {name}")
}

/// Says until when a defect is accepted, and when that is past.
pub fn accepted(until_ms: i64, now_ms: i64) -> String {
    if now_ms > until_ms {
        format!(
            "accepted until {}: that is past",
            time::date_clock(until_ms)
        )
    } else {
        format!("accepted until {}", time::date_clock(until_ms))
    }
}

/// Says who put something in force, and when.
pub fn in_force(by: &str, at_ms: i64) -> String {
    format!("{by}, {}", time::date_clock(at_ms))
}

/// Says how a round stands.
pub fn round_state(state: RoundState) -> &'static str {
    match state {
        RoundState::Overdue => "overdue",
        RoundState::NeverDone => "never done",
        RoundState::NotSet => "its interval is not set",
        RoundState::Due => "due soon",
        RoundState::Done => "done",
    }
}

/// Says how many rounds are overdue; nothing where none is.
pub fn overdue(overdue: usize, never_done: usize) -> Option<String> {
    let late = match overdue {
        0 => None,
        1 => Some("1 round overdue".to_owned()),
        n => Some(format!("{n} rounds overdue")),
    };
    let never = match never_done {
        0 => None,
        1 => Some("1 never done".to_owned()),
        n => Some(format!("{n} never done")),
    };
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
        .map_or_else(|| "The whole".to_owned(), |step| format!("Step {step}"));
    match &difference.change {
        Change::Added { instruction } => format!("{place} is new: {instruction}"),
        Change::Removed { instruction } => format!("{place} is gone: {instruction}"),
        Change::Moved => format!("{place} stands elsewhere in the order"),
        Change::Changed { part, from, to } => {
            let said = |text: &str| {
                if text.is_empty() {
                    "nothing".to_owned()
                } else {
                    format!("\u{201c}{text}\u{201d}")
                }
            };
            format!("{place}, {part}: {} in place of {}", said(to), said(from))
        }
    }
}

/// Says what a fault does.
pub fn on_fault(on_fault: OnFault) -> &'static str {
    match on_fault {
        OnFault::Note => "A fault is noted as a defect; the work goes on.",
        OnFault::Officer => "A fault needs the officer's recorded reason to go on.",
        OnFault::Stop => "A fault stops the work until it is put right.",
    }
}

/// Says who may leave a step out.
pub fn skip(skip: Skip) -> &'static str {
    match skip {
        Skip::Anyone => "May be left out with a reason.",
        Skip::Officer => "Left out only by the officer, with a reason.",
        Skip::Never => "Never left out.",
    }
}

/// Says how long a cable is and what stays inboard.
pub fn cable_total(total_m: f64, keep_m: f64) -> String {
    format!("{total_m:.1} m in all, {keep_m:.1} m stays inboard")
}

/// Says a mark and its paints.
pub fn cable_mark(number: usize, paints: &str) -> String {
    if paints.is_empty() {
        format!("{number} not painted")
    } else {
        format!("{number} {paints}")
    }
}

/// Says by when a round is due.
pub fn due_between(title: &str, from: &str, until: &str) -> String {
    format!("{title}: from {from} until {until}")
}
