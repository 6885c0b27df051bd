//! What is said of the ship's roll: what its head is, and what is wrong with it.

use super::Word;
use crate::time;
use journal::log::{Finder, Found, Head, Trouble};
use record::Restore;
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/roll.rs"));
}

/// Says what is wrong, in a few words.
pub fn trouble_head(trouble: &Trouble) -> Word {
    match trouble.found {
        Found::Restored(_) => RESTORED,
        Found::Rewritten => REWRITTEN,
    }
}

/// Says what it means and what to do.
pub fn trouble_body(trouble: &Trouble) -> String {
    match (trouble.found, trouble.finder) {
        (Found::Restored(restore), _) => {
            restored_body(&restore.lost.to_string(), &restore.kept.to_string())
        }
        (Found::Rewritten, Finder::Device) => DEVICE_REMEMBERS.into(),
        (Found::Rewritten, Finder::Ship) => SHIP_KEEPS.into(),
        (Found::Rewritten, Finder::Office) => OFFICE_REMEMBERS.into(),
    }
}

/// Says a head in a line: how many records, signed when, and how its root begins.
pub fn head_line(head: &Head) -> String {
    let begins = head.groups().into_iter().take(4).collect::<Vec<_>>();
    let (begins, size) = (begins.join(" "), head.size.to_string());
    match head.signed_ms {
        Some(ms) => head_signed(&size, &time::date_clock(ms), &begins),
        None => head_unsigned(&size, &begins),
    }
}

/// Says when it was found.
pub fn found_at(ms: i64) -> String {
    said::found_at(&time::date_clock(ms))
}

/// Says who has read it, and why it came about.
pub fn read_by(by: &str, at_ms: i64, reason: &str) -> String {
    format!("{by}, {}: {reason}", time::date_clock(at_ms))
}

/// Says what a restore lost.
pub fn restored(restore: &Restore) -> String {
    restored_line(
        &time::date_clock(restore.at_ms),
        &restore.lost.to_string(),
        &restore.kept.to_string(),
    )
}

/// Says when the head was last checked by this device, and with what result.
pub fn checked(at_ms: i64, now_ms: i64) -> String {
    checked_line(
        &time::date_clock(at_ms),
        &time::span((now_ms - at_ms).max(0)),
    )
}

/// Says when this was signed, and how long ago.
pub fn signed(at_ms: i64, now_ms: i64) -> String {
    signed_line(
        &time::date_clock(at_ms),
        &time::span((now_ms - at_ms).max(0)),
    )
}
