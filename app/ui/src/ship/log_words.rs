//! The words of the ship's log: what its head is, and what is wrong with it.

use crate::time;
use journal::log::{Finder, Found, Head, Trouble};
use record::Restore;

pub const LOG: &str = "Ship's log";
pub const LOG_SHORT: &str = "Log";
pub const LOG_FOR: &str =
    "Every record in the order in which it came aboard. Nothing is ever taken out.";
pub const HEAD: &str = "The head of the log";
pub const HEAD_BODY: &str = "The head stands for every record in the log and their order: had one been \
    removed, changed or put in between, the head would be another. Two devices that show the same number \
    of records must show the same head. Read it aloud over the radio and compare it group by group.";
pub const RECORDS: &str = "Records";
pub const SIGNED: &str = "Signed";
pub const SIGNED_BY: &str = "Log";
pub const ROOT: &str = "Head";
pub const CHECKED_HERE: &str = "Checked by this device";
pub const NOT_CHECKED: &str = "This device has not checked a head yet. It does so when it syncs.";
pub const THIS_DEVICE: &str = "As this device checked it last";
pub const SERVER_SHOWS: &str = "As the server shows it now";
pub const SHIPS_OWN: &str = "The ship's own log, as this office saw it last";
pub const RESTORES: &str = "Put back from a backup";
pub const DAMAGE: &str = "The server's store is not what the server wrote";
pub const DAMAGE_BODY: &str = "Records that the log names are gone or changed in the server's files. The log \
    itself shows it. Do not use this store as evidence before someone has looked into it; the devices and \
    the office hold the records.";
pub const QR_LABEL: &str = "The signed head as a QR picture";
pub const QR_BODY: &str = "The signed head, to keep on another device or on paper. Whoever has it can check \
    years later that nothing was taken out: clearhawse verify FILE --since HEAD.";
pub const PROOF: &str = "What this proves";
pub const READ_ALREADY: &str = "Read by a master";
pub const WHAT_STANDS: &str = "What is wrong";
pub const WHY: &str = "Why did it come about? What was done?";
pub const I_HAVE_READ: &str = "I have read this";
pub const ONLY_MASTER: &str =
    "This stands until a master has read it and written down why it came about.";
pub const LOOK: &str = "Look at the log";
pub const REMEMBERED: &str = "Remembered";
pub const SHOWN: &str = "Shown";
pub const NO_LOG: &str = "No log to show here";

/// Says what is wrong, in a few words.
pub fn trouble_head(trouble: &Trouble) -> &'static str {
    match trouble.found {
        Found::Restored(_) => "The ship's server was restored from a backup.",
        Found::Rewritten => "The ship's log is not what it was.",
    }
}

/// Says what it means and what to do.
pub fn trouble_body(trouble: &Trouble) -> String {
    match trouble.found {
        Found::Restored(restore) => format!(
            "It had {} records and began again with {} of them; it says so itself, and what came before is \
             unchanged. Records that it lost are sent again from the devices and stay in their chains. \
             Leave every phone in range until nothing waits. If nobody put a backup back, tell the master.",
            restore.lost, restore.kept
        ),
        Found::Rewritten => format!(
            "{} a head that the ship's server signed, and the one shown now cannot follow from it: records \
             were removed or changed, or two servers sign with the ship's key. Clear no phone and keep this \
             page: the records on the devices are the evidence. Tell the master and the office.",
            finder(trouble.finder)
        ),
    }
}

fn finder(finder: Finder) -> &'static str {
    match finder {
        Finder::Device => "A device remembers",
        Finder::Ship => "The ship's server keeps",
        Finder::Office => "The office remembers",
    }
}

/// Says a head in a line: how many records, signed when, and how its root begins.
pub fn head_line(head: &Head) -> String {
    let begins = head.groups().into_iter().take(4).collect::<Vec<_>>();
    let begins = begins.join(" ");
    match head.signed_ms {
        Some(ms) => format!(
            "{} records, signed {}, {begins}…",
            head.size,
            time::date_clock(ms)
        ),
        None => format!("{} records, {begins}…", head.size),
    }
}

/// Says when it was found.
pub fn found_at(ms: i64) -> String {
    format!("Found {}.", time::date_clock(ms))
}

/// Says who has read it, and why it came about.
pub fn read_by(by: &str, at_ms: i64, reason: &str) -> String {
    format!("{by}, {}: {reason}", time::date_clock(at_ms))
}

/// Says what a restore lost.
pub fn restored(restore: &Restore) -> String {
    format!(
        "{}: from {} records back to {}",
        time::date_clock(restore.at_ms),
        restore.lost,
        restore.kept
    )
}

/// Says when the head was last checked by this device, and with what result.
pub fn checked(at_ms: i64, now_ms: i64) -> String {
    format!(
        "{}, {} ago: it follows from what this device remembered.",
        time::date_clock(at_ms),
        time::span((now_ms - at_ms).max(0))
    )
}

/// Says when this was signed, and how long ago.
pub fn signed(at_ms: i64, now_ms: i64) -> String {
    format!(
        "{}, {} ago",
        time::date_clock(at_ms),
        time::span((now_ms - at_ms).max(0))
    )
}
