//! Every sentence that the parts say, for review and translation.

use super::{
    banner::Notice,
    chain::{ChainLink, LinkState},
    defect_card::Severity,
    light_switch::Light,
    sync_line::SyncState,
};

/// Names the action sheet for those who hear the page.
pub const THIS_STEP: &str = "The step at hand";
/// Stands on the first action while the disk works.
pub const SAVING: &str = "Saving\u{2026}";
/// Stands in the display before the first key.
pub const NOTHING_TYPED: &str = "\u{2013}";
/// Names the key of the decimal point.
pub const KEY_POINT: &str = "Decimal point";
/// Names the key of the sign.
pub const KEY_MINUS: &str = "Minus";
/// Takes the last sign away.
pub const KEY_ERASE: &str = "Erase";
/// Begins every caution.
pub const CAUTION: &str = "Caution.";
/// Names the choice of light.
pub const LIGHT: &str = "Light";
/// Says what a hold button wants.
pub const KEEP_HOLDING: &str = "Keep holding\u{2026}";
/// Says how a hold button is pressed.
pub const PRESS_AND_HOLD: &str = "Press and hold";
/// Heads a seal that found nothing wrong.
pub const SEAL_SOUND: &str = "Checked and sound";
/// Heads a seal that found a fault.
pub const SEAL_BROKEN: &str = "Checked, and not sound";
/// Stands by a person who is chosen.
pub const CHOSEN: &str = "Chosen";
/// Stands where a drawing has nothing to show.
pub const NOTHING_TO_DRAW: &str = "Nothing to draw yet: a figure is missing or out of range.";
/// Names the part of the cable that is kept inboard.
pub const KEPT_INBOARD: &str = "kept inboard";
/// Names the plan's mark on the cable.
pub const PLANNED: &str = "planned";
/// The unit of a drawing's axis.
pub const METRES: &str = "m";
/// Names the sea's surface in a drawing.
pub const SURFACE: &str = "Surface";
/// Names the part of the cable that lies on the ground.
pub const ON_THE_GROUND: &str = "on the ground";
/// Names the ship's keel in a drawing of the depth.
pub const KEEL: &str = "Keel";
/// Stands on the lead dial before the first report.
pub const LEAD_NOT_REPORTED: &str = "Lead not reported yet.";

/// Returns a link's state as its word.
pub fn link_state(state: LinkState) -> &'static str {
    match state {
        LinkState::Done => "Done",
        LinkState::Open => "To do",
        LinkState::Next => "Next",
        LinkState::Hold => "Hold",
        LinkState::Stale => "Stale",
        LinkState::OutOfLimits => "Out of limits",
        LinkState::NotDone => "Not done",
        LinkState::Fault => "Fault",
    }
}

/// Returns what is read aloud after a step whose state is drawn only.
pub fn link_spoken(state: LinkState) -> String {
    format!(" ({})", link_state(state).to_lowercase())
}

/// Returns a count such as '14 of 25'.
pub fn done_of(done: usize, all: usize) -> String {
    format!("{done} of {all}")
}

/// Returns what a strip of chain shows, in words.
pub fn chain_in_words(done: usize, all: usize, links: &[ChainLink]) -> String {
    let next = links
        .iter()
        .find(|link| matches!(link.state, LinkState::Next | LinkState::Hold))
        .map(|link| {
            let head = if link.state == LinkState::Hold {
                "Held at"
            } else {
                "Next"
            };
            format!("{head}: {}.", link.title.trim_end_matches('.'))
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
    .map(|(state, count)| format!("{}: {count}.", link_state(state)));
    let said: Vec<_> = [format!("{done} of {all} steps worked.")]
        .into_iter()
        .chain(next)
        .chain(counted)
        .collect();
    said.join(" ")
}

/// Returns a span of time rounded down to its largest unit, such as '6 min'.
pub fn span(s: u64) -> String {
    match s {
        0..60 => format!("{s} s"),
        60..3_600 => format!("{} min", s / 60),
        3_600..172_800 => format!("{} h", s / 3_600),
        _ => format!("{} days", s / 86_400),
    }
}

/// Returns how old news is.
pub fn heard(heard_s: Option<u64>) -> String {
    match heard_s {
        None => "not heard yet".to_owned(),
        Some(s) if s < 120 => format!("heard {} ago", span(s)),
        Some(s) => format!("not heard for {}", span(s)),
    }
}

/// Returns when the ship was last heard.
pub fn ship_heard(heard_s: Option<u64>) -> String {
    match heard_s {
        None => "Ship not heard yet".to_owned(),
        Some(s) if s < 120 => format!("Ship heard {} ago", span(s)),
        Some(s) => format!("Ship not heard for {}", span(s)),
    }
}

/// Returns where the records are.
pub fn records_waiting(state: SyncState) -> String {
    match (state.refused, state.waiting) {
        (0, 0) => "all on the ship".to_owned(),
        (0, 1) => "1 waits, safe here".to_owned(),
        (0, n) => format!("{n} wait, safe here"),
        (1, _) => "1 record refused: show it to the officer".to_owned(),
        (n, _) => format!("{n} records refused: show them to the officer"),
    }
}

/// Returns a light's name.
pub fn light(light: Light) -> &'static str {
    match light {
        Light::Day => "Day",
        Light::Dusk => "Dusk",
        Light::Night => "Night",
        Light::BySun => "By the sun",
    }
}

/// Returns what the light key does.
pub fn light_now(now: Light) -> String {
    format!(
        "Light: {}. Change to {}.",
        light(now).to_lowercase(),
        light(now.next()).to_lowercase()
    )
}

/// Returns a notice's first words.
pub fn notice_head(notice: &Notice) -> String {
    match notice {
        Notice::StorageNotPersistent => "The browser may clear this phone's records.".to_owned(),
        Notice::StorageLow(mb) => format!("Only {mb} MB of room left on this phone."),
        Notice::NotSaved(_) => "The last tick was not saved.".to_owned(),
        Notice::UpdateReady => "A newer version is ready.".to_owned(),
        Notice::OtherTab => "Another tab of this program is writing.".to_owned(),
        Notice::ClockOff(s) => format!(
            "This phone's clock is {} {} the ship's.",
            span(s.unsigned_abs()),
            if *s >= 0 { "ahead of" } else { "behind" }
        ),
        Notice::NotReached(_) => "The server was not reached.".to_owned(),
    }
}

/// Returns what a notice means and what to do.
pub fn notice_body(notice: &Notice) -> String {
    match notice {
        Notice::StorageNotPersistent => {
            "Add the program to the home screen, and go in range of the ship before you close it."
                .to_owned()
        }
        Notice::StorageLow(_) => {
            "Go in range of the ship so that it takes the records, then free some room.".to_owned()
        }
        Notice::NotSaved(why) => {
            format!("{why} Nothing ticked before is lost. Try again, or write it down.")
        }
        Notice::UpdateReady => "It is taken when no run is being worked.".to_owned(),
        Notice::OtherTab => "Work there, or close it and come back here.".to_owned(),
        Notice::ClockOff(_) => {
            "Times are kept as this phone had them, with the difference beside them.".to_owned()
        }
        Notice::NotReached(why) => format!("{why} What you see is what was last heard."),
    }
}

/// Returns what a notice's button does.
pub fn notice_act(notice: &Notice) -> &'static str {
    match notice {
        Notice::StorageNotPersistent => "Ask again",
        Notice::StorageLow(_) => "Show what fills it",
        Notice::NotSaved(_) | Notice::NotReached(_) => "Try again",
        Notice::UpdateReady => "Take it now",
        Notice::OtherTab => "Write here",
        Notice::ClockOff(_) => "Show the offset",
    }
}

/// Returns a defect's severity as its word.
pub fn severity(severity: Severity) -> &'static str {
    match severity {
        Severity::Note => "Note",
        Severity::Repair => "Repair",
        Severity::Stop => "Stops the work",
    }
}

/// Returns a range of limits in words, such as 'at least 0.30 MPa'.
pub fn limits(least: Option<&str>, most: Option<&str>, unit: &str) -> String {
    match (least, most) {
        (Some(least), Some(most)) => format!("{least} to {most} {unit}"),
        (Some(least), None) => format!("at least {least} {unit}"),
        (None, Some(most)) => format!("at most {most} {unit}"),
        (None, None) => "no limit set".to_owned(),
    }
}

/// Returns how a value stands to its limits.
pub fn against(value: f64, least: Option<f64>, most: Option<f64>) -> &'static str {
    if !value.is_finite() {
        "not a number"
    } else if least.is_some_and(|least| value < least) {
        "too low"
    } else if most.is_some_and(|most| value > most) {
        "too high"
    } else if least.is_none() && most.is_none() {
        "no limit set"
    } else {
        "within limits"
    }
}

/// Returns the cable out, in words.
pub fn cable_out(out_m: f64, aboard_m: f64) -> String {
    format!("{out_m:.0} m of {aboard_m:.0} m out")
}

/// Returns what a drawing of the hanging cable shows.
pub fn catenary_in_words(depth_m: f64, grounded_m: f64, reach_m: f64) -> String {
    format!(
        "Cable in {depth_m:.1} m of water: {grounded_m:.0} m on the ground, hawse {reach_m:.0} m from the anchor over the ground."
    )
}

/// Says that a danger lies where the ship can swing.
pub fn inside_the_circle(name: &str) -> String {
    format!("{name} lies inside the swinging circle.")
}

/// Returns what a drawing of the swinging room shows.
pub fn swing_in_words(radius_m: f64, dangers: usize) -> String {
    format!("Swinging circle of {radius_m:.0} m about the anchor, with {dangers} dangers near.")
}

/// Returns what a drawing of the depth over the stay shows.
pub fn depth_in_words(least_m: f64, clearance_m: f64) -> String {
    format!("Depth over the stay: least {least_m:.1} m, {clearance_m:.1} m under the keel.")
}

/// Returns a clearance as it stands on the drawing.
pub fn under_keel(clearance_m: f64) -> String {
    format!("{clearance_m:.1} m under the keel")
}
