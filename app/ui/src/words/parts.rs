//! What the parts say.

use super::Word;
use crate::parts::{
    banner::Notice,
    chain::{ChainLink, LinkState},
    defect_card::Severity,
    light_switch::Light,
    sync_line::SyncState,
};
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/parts.rs"));
}

/// Returns a link's state as its word.
pub fn link_state(state: LinkState) -> Word {
    match state {
        LinkState::Done => LINK_DONE,
        LinkState::Open => LINK_OPEN,
        LinkState::Next => LINK_NEXT,
        LinkState::Hold => LINK_HOLD,
        LinkState::Stale => LINK_STALE,
        LinkState::OutOfLimits => LINK_OUT_OF_LIMITS,
        LinkState::NotDone => LINK_NOT_DONE,
        LinkState::Fault => LINK_FAULT,
    }
}

/// Returns what is read aloud after a step whose state is drawn only.
pub fn link_spoken(state: LinkState) -> String {
    format!(" ({})", link_state(state).to_lowercase())
}

/// Returns a count such as '14 of 25'.
pub fn done_of(done: usize, all: usize) -> String {
    said::done_of(&done.to_string(), &all.to_string())
}

/// Returns what a strip of chain shows, in words.
pub fn chain_in_words(done: usize, all: usize, links: &[ChainLink]) -> String {
    let next = links
        .iter()
        .find(|link| matches!(link.state, LinkState::Next | LinkState::Hold))
        .map(|link| {
            let title = link.title.trim_end_matches('.');
            if link.state == LinkState::Hold {
                held_at(title)
            } else {
                next_is(title)
            }
        });
    let counted = [
        LinkState::OutOfLimits,
        LinkState::Stale,
        LinkState::Fault,
        LinkState::NotDone,
    ]
    .into_iter()
    .map(|state| {
        (
            state,
            links.iter().filter(|link| link.state == state).count(),
        )
    })
    .filter(|(_, count)| *count > 0)
    .map(|(state, count)| state_count(&link_state(state), &count.to_string()));
    let said: Vec<_> = [steps_worked(&done.to_string(), &all.to_string())]
        .into_iter()
        .chain(next)
        .chain(counted)
        .collect();
    said.join(" ")
}

/// Returns a span of time rounded down to its largest unit, such as '6 min'.
pub fn span(s: u64) -> String {
    match s {
        0..60 => span_s(&s.to_string()),
        60..3_600 => span_min(&(s / 60).to_string()),
        3_600..172_800 => span_h(&(s / 3_600).to_string()),
        _ => span_days(&(s / 86_400).to_string()),
    }
}

/// Returns how old news is.
pub fn heard(heard_s: Option<u64>) -> String {
    match heard_s {
        None => NOT_HEARD.into(),
        Some(s) if s < 120 => heard_ago(&span(s)),
        Some(s) => heard_not_for(&span(s)),
    }
}

/// Returns when the ship was last heard.
pub fn ship_heard(heard_s: Option<u64>) -> String {
    match heard_s {
        None => SHIP_NOT_HEARD.into(),
        Some(s) if s < 120 => ship_heard_ago(&span(s)),
        Some(s) => ship_heard_not_for(&span(s)),
    }
}

/// Returns where the records are.
pub fn records_waiting(state: SyncState) -> String {
    if state.is_withdrawn {
        return records_withdrawn(state.waiting);
    }
    match (state.refused, state.waiting) {
        (0, 0) => ALL_ABOARD.into(),
        (0, n) => records_wait(n),
        (n, _) => records_refused(n),
    }
}

/// Returns a light's name.
pub fn light(light: Light) -> Word {
    match light {
        Light::Day => LIGHT_DAY,
        Light::Dusk => LIGHT_DUSK,
        Light::Night => LIGHT_NIGHT,
        Light::BySun => LIGHT_BY_SUN,
    }
}

/// Returns what the light key does.
pub fn light_now(now: Light) -> String {
    said::light_now(
        &light(now).to_lowercase(),
        &light(now.next()).to_lowercase(),
    )
}

/// Returns a notice's first words.
pub fn notice_head(notice: &Notice) -> String {
    match notice {
        Notice::StorageNotPersistent => NOT_PERSISTENT.into(),
        Notice::StorageLow(mb) => storage_low(&mb.to_string()),
        Notice::NotSaved(_) => NOT_SAVED.into(),
        Notice::UpdateReady => UPDATE_READY.into(),
        Notice::OtherTab => OTHER_TAB.into(),
        Notice::ClockOff(s) if *s >= 0 => clock_fast(&span(s.unsigned_abs())),
        Notice::ClockOff(s) => clock_slow(&span(s.unsigned_abs())),
        Notice::NotReached(_) => NOT_REACHED.into(),
    }
}

/// Returns what a notice means and what to do.
pub fn notice_body(notice: &Notice) -> String {
    match notice {
        Notice::StorageNotPersistent => NOT_PERSISTENT_BODY.into(),
        Notice::StorageLow(_) => STORAGE_LOW_BODY.into(),
        Notice::NotSaved(why) => not_saved_body(why),
        Notice::UpdateReady => UPDATE_READY_BODY.into(),
        Notice::OtherTab => OTHER_TAB_BODY.into(),
        Notice::ClockOff(_) => CLOCK_OFF_BODY.into(),
        Notice::NotReached(why) => not_reached_body(why),
    }
}

/// Returns what a notice's button does.
pub fn notice_act(notice: &Notice) -> Word {
    match notice {
        Notice::StorageNotPersistent => NOT_PERSISTENT_ACT,
        Notice::StorageLow(_) => STORAGE_LOW_ACT,
        Notice::NotSaved(_) | Notice::NotReached(_) => TRY_AGAIN,
        Notice::UpdateReady => UPDATE_READY_ACT,
        Notice::OtherTab => OTHER_TAB_ACT,
        Notice::ClockOff(_) => CLOCK_OFF_ACT,
    }
}

/// Returns a defect's severity as its word.
pub fn severity(severity: Severity) -> Word {
    match severity {
        Severity::Note => NOTE,
        Severity::Repair => REPAIR,
        Severity::Stop => STOP,
    }
}

/// Returns a range of limits in words, such as 'at least 0.30 MPa'.
pub fn limits(least: Option<&str>, most: Option<&str>, unit: &str) -> String {
    match (least, most) {
        (Some(least), Some(most)) => limits_between(least, most, unit),
        (Some(least), None) => limits_least(least, unit),
        (None, Some(most)) => limits_most(most, unit),
        (None, None) => NO_LIMIT.into(),
    }
}

/// Returns how a value stands to its limits.
pub fn against(value: f64, least: Option<f64>, most: Option<f64>) -> Word {
    if !value.is_finite() {
        NOT_A_NUMBER
    } else if least.is_some_and(|least| value < least) {
        TOO_LOW
    } else if most.is_some_and(|most| value > most) {
        TOO_HIGH
    } else if least.is_none() && most.is_none() {
        NO_LIMIT
    } else {
        WITHIN
    }
}

/// Returns the cable out, in words.
pub fn cable_out(out_m: f64, aboard_m: f64) -> String {
    if !out_m.is_finite() {
        return cable_out_unknown(&format!("{aboard_m:.0}"));
    }
    said::cable_out(&format!("{out_m:.0}"), &format!("{aboard_m:.0}"))
}

/// Returns what a drawing of the hanging cable shows.
pub fn catenary_in_words(depth_m: f64, grounded_m: f64, reach_m: f64) -> String {
    said::catenary_in_words(
        &format!("{depth_m:.1}"),
        &format!("{grounded_m:.0}"),
        &format!("{reach_m:.0}"),
    )
}

/// Returns what a drawing of the swinging room shows.
pub fn swing_in_words(radius_m: f64, dangers: usize) -> String {
    said::swing_in_words(&format!("{radius_m:.0}"), &dangers.to_string())
}

/// Returns what a drawing of the depth over the stay shows.
pub fn depth_in_words(least_m: f64, clearance_m: f64) -> String {
    said::depth_in_words(&format!("{least_m:.1}"), &format!("{clearance_m:.1}"))
}

/// Returns a clearance as it stands on the drawing.
pub fn under_keel(clearance_m: f64) -> String {
    said::under_keel(&format!("{clearance_m:.1}"))
}
