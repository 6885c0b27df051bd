//! Every sentence that a page shows, so that it can be reviewed and translated. The sentences themselves
//! stand in `words/en.txt`, a file for each language; here a value finds the one that says it. The
//! procedures' own texts stand in their files.

pub mod anchor;
pub mod catalogue;
pub mod crew;
pub mod engine;
pub mod forward;
pub mod gear;
mod language;
pub mod parts;
pub mod plan;
pub mod proof;
pub mod pseudo;
pub mod roll;
pub mod setup;
pub mod ship;
pub mod unlock_sheet;
mod word;

use journal::cable::Seen;
use journal::server_trouble::ServerTrouble;
pub use language::{COOKIE, Language};
use procedure::MarkAt;
use procedure::cable::Side;
pub use said::*;
pub use word::Word;

mod said {
    use super::word::Word;
    include!(concat!(env!("OUT_DIR"), "/common.rs"));
}

pub const NORTH_SOUTH: [Word; 2] = [NORTH, SOUTH];
pub const EAST_WEST: [Word; 2] = [EAST, WEST];

/// Says who stopped the work, when and why.
pub fn stopped(stop: &procedure::StopView, crew: &[journal::Person]) -> String {
    let who = crate::run_links::name_in(crew, &stop.by);
    stopped_by(&who, &crate::time::clock(stop.at_ms), &stop.cause)
}

/// Says how good a fix is.
pub fn fix_accuracy(metres: f64) -> String {
    said::fix_accuracy(&format!("{metres:.0}"))
}

/// Says how many marks have passed.
pub fn marks_out(out: Option<Seen>) -> String {
    let Some(Seen { mark, at }) = out else {
        return NO_MARK_OUT.into();
    };
    if at != MarkAt::Gypsy {
        return shackles_seen(&mark.to_string(), &mark_at(at));
    }
    match mark {
        0.0 => NO_SHACKLE_OUT.into(),
        1.0 => ONE_SHACKLE_OUT.into(),
        n => shackles_out(&n.to_string()),
    }
}

/// Says whose cable it is.
pub fn side_cable(side: Side) -> &'static str {
    match side {
        Side::Port => PORT_CABLE.text(),
        Side::Starboard => STARBOARD_CABLE.text(),
    }
}

/// Says what the plan orders and how much is to come.
pub fn to_come(ordered: f64, more: f64) -> String {
    said::to_come(&ordered.to_string(), &more.to_string())
}

/// Says where a mark is seen.
pub fn mark_at(at: MarkAt) -> Word {
    match at {
        MarkAt::Gypsy => AT_GYPSY,
        MarkAt::OnDeck => ON_DECK,
        MarkAt::Hawse => AT_HAWSE,
        MarkAt::Water => AT_WATER,
    }
}

/// Says what is wrong with the ship's server, what it means, and what to do.
pub fn server_trouble(trouble: &ServerTrouble) -> String {
    match trouble {
        ServerTrouble::Descriptors { open, limit } => {
            descriptors(&open.to_string(), &limit.to_string())
        }
        ServerTrouble::Unwritable { is_full: true } => SERVER_FULL.into(),
        ServerTrouble::Unwritable { is_full: false } => SERVER_UNWRITABLE.into(),
        ServerTrouble::ClockBehind { behind_ms } => {
            server_clock_behind(&(behind_ms / 60_000).max(1).to_string())
        }
        ServerTrouble::Unknown => SERVER_UNKNOWN.into(),
    }
}

/// Names a mark, and half a length more.
pub fn mark_number(number: i64, is_half: bool) -> String {
    match (number, is_half) {
        (0, true) => "\u{bd}".to_owned(),
        (_, true) => format!("{number}\u{bd}"),
        _ => number.to_string(),
    }
}

/// Says a lead by the clock.
pub fn oclock(hour: u8) -> String {
    said::oclock(&hour.to_string())
}

/// Says how the cable weighs.
pub fn strain(strain: u8) -> Word {
    match strain {
        0 => STRAIN_SLACK,
        1 => STRAIN_LIGHT,
        2 => STRAIN_MODERATE,
        3 => STRAIN_HEAVY,
        _ => STRAIN_VERY_HEAVY,
    }
}

/// Says who waits at a hold, since when, and what is open.
pub fn hold_asked(who: &str, clock: &str, ago: &str, defects: usize) -> String {
    let asked = if who.is_empty() {
        hold_since(clock, ago)
    } else {
        hold_reached(who, clock, ago)
    };
    match defects {
        0 => asked,
        n => hold_defects(n, &asked),
    }
}

/// Says that numbers in chains were used twice.
pub fn forked(count: usize) -> String {
    said::forked(&count.to_string())
}

/// Says how many records the seal covers.
pub fn seal_count(count: usize) -> String {
    said::seal_count(&count.to_string())
}

/// Says which record is broken, and how.
pub fn broken_record(seq: u64, device: &str, id: &str, why: &str) -> String {
    said::broken_record(&seq.to_string(), device, id, why)
}

/// Says between which times of the server's clock a record was made, as far as its receipts tell.
pub fn bounds(not_before_ms: Option<i64>, not_after_ms: Option<i64>) -> Option<String> {
    let at = |ms| crate::time::date_clock_s(ms);
    match (not_before_ms, not_after_ms) {
        (None, None) => None,
        (None, Some(after)) => Some(not_after(&at(after))),
        (Some(before), None) => Some(not_before(&at(before))),
        (Some(before), Some(after)) => Some(not_before_nor_after(&at(before), &at(after))),
    }
}

/// Names a record shortly.
pub fn record_name(id: &str, seq: u64) -> String {
    said::record_name(&seq.to_string(), id)
}

/// Says how the cable grows.
pub fn grows(grows: procedure::Grows) -> Word {
    use procedure::Grows;
    match grows {
        Grows::UpAndDown => GROWS_UP_AND_DOWN,
        Grows::ShortStay => GROWS_SHORT_STAY,
        Grows::Medium => GROWS_MEDIUM,
        Grows::LongStay => GROWS_LONG_STAY,
        Grows::Slack => GROWS_SLACK,
        Grows::UnderTheBow => GROWS_UNDER_THE_BOW,
        Grows::Aweigh => GROWS_AWEIGH,
    }
}

/// Says how bad a defect is.
pub fn severity(severity: procedure::Severity) -> Word {
    use procedure::Severity;
    match severity {
        Severity::Watch => SEVERITY_WATCH,
        Severity::Restricted => SEVERITY_RESTRICTED,
        Severity::OutOfService => SEVERITY_OUT_OF_SERVICE,
        Severity::Danger => SEVERITY_DANGER,
    }
}
