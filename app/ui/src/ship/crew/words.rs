//! Every sentence of the crew's page.

use crate::time;
use journal::crew::{Gone, KeyRow};
use procedure::Roles;

pub const CREW: &str = "Crew and devices";
pub const CREW_BODY: &str = "Who is aboard, what each may do, and the devices that sign for them. What a withdrawn device signed before stays good.";
pub const STRANGERS: &str = "No longer on the list";
pub const NO_DEVICE: &str = "No device signs for them yet.";
pub const HAND_OUT: &str = "Hand out a code";
pub const CODE: &str = "One-time code";
pub const CODE_ENDED: &str = "This code has ended. Hand out another.";
pub const CHANGE: &str = "Change the entry";
pub const TAKE_ON: &str = "Take somebody on";
pub const SHIP: &str = "The ship's particulars";
pub const SENDING: &str = "Being sent to the ship …";
pub const NAME: &str = "Name";
pub const RANK: &str = "Rank";
pub const ROLES: &str = "May act as";
pub const JOINS: &str = "Joins (day)";
pub const LEAVES: &str = "Leaves (last day)";
pub const SAVE: &str = "Put on record";
pub const PARTICULARS: &str = "Particulars";
pub const LATITUDE: &str = "Latitude, degrees north";
pub const LONGITUDE: &str = "Longitude, degrees east";
pub const POSITION_HELP: &str =
    "Roughly where she lies: day and night on the screens follow the sun there.";
pub const NO_NUMBER: &str = "The latitude and the longitude are numbers of degrees.";
pub const WITHDRAW: &str = "Withdraw this device";
pub const WITHDRAW_BODY: &str = "Lost, stolen, or its PIN told to somebody: withdraw it. From then on it can read nothing of the ship's and nothing that it signs counts. It cannot be undone; its person enrols again.";
pub const WITHDRAW_RULE: &str = "What the ship has of it from before that time stays good. What comes in later does not count, not even what it signed before and had not sent: whoever has the device can write any time. Let it send first, if you can.";
pub const FROM_HELP: &str =
    "Year, month, day, hour and minute, as 2026-11-25 14:30. Not a time to come.";
pub const NO_MOMENT: &str =
    "The time cannot be read. Write it in UTC as 2026-11-25 14:30, or leave it empty for now.";
pub const REASON: &str = "Why";
pub const FROM: &str = "From when, in UTC (leave empty for now)";
pub const SPEAKS: &str = "signs";
pub const WITHDRAWN: &str = "withdrawn";
pub const FROZEN: &str = "frozen";
pub const ENDED: &str = "ended";

pub fn code_picture(name: &str) -> String {
    format!("Picture of the address and the code that enrol {name}")
}

pub fn code_left(left: &str) -> String {
    format!(
        "Works once, for {left} more. Open the ship's address on their phone and type it, or let the phone's camera read the picture."
    )
}

pub fn forked(seq: u64) -> String {
    format!(
        "It has used its number {seq} twice: two devices hold this key, or one was set back. Withdraw it; its person enrols again."
    )
}

pub fn withdrawn(gone: &Gone) -> String {
    format!(
        "Withdrawn from {}: {}. Its records up to number {} stay good.",
        time::date_clock(gone.from_ms),
        gone.reason,
        gone.last_seq
    )
}

pub fn roles(roles: Roles) -> String {
    let words: Vec<&str> = roles
        .list()
        .into_iter()
        .map(procedure::Role::words)
        .collect();
    words.join(", ")
}

pub fn stay(joins_ms: Option<i64>, leaves_ms: Option<i64>) -> String {
    match (joins_ms, leaves_ms) {
        (None, None) => String::new(),
        (Some(from), None) => format!(" from {}", date(from)),
        (None, Some(until)) => format!(" until {}", date(until)),
        (Some(from), Some(until)) => {
            format!(" from {} until {}", date(from), date(until))
        }
    }
}

/// What is known of a key, in one line.
pub fn key_facts(key: &KeyRow, now_ms: i64) -> String {
    let mut facts = vec![format!("enrolled {}", time::date_clock(key.enrolled_ms))];
    facts.push(match key.heard_ms {
        Some(at) => format!("last heard {} ago", time::span((now_ms - at).max(0))),
        None => "not heard since this page was opened".to_owned(),
    });
    facts.push(match key.signed_ms {
        Some(at) => format!("{} records, the last {}", key.records, time::date_clock(at)),
        None => "nothing signed yet".to_owned(),
    });
    if let Some(offset) = key.offset_ms.filter(|offset| offset.abs() > 2_000) {
        let way = if offset > 0 { "ahead" } else { "behind" };
        facts.push(format!("clock {} {way}", time::span(offset.abs())));
    }
    if key.protection == "software" {
        facts.push("key kept in software".to_owned());
    }
    facts.push(format!("good until {}", date(key.expires_ms)));
    facts.join(" · ")
}

/// Returns a day with its year.
fn date(ms: i64) -> String {
    time::date_clock(ms).chars().take(10).collect()
}
