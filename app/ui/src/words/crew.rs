//! What the crew's page says.

use crate::time;
use journal::crew::{DoubtRow, Gone, KeyRow};
use procedure::Roles;
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/crew.rs"));
}

pub fn forked(seq: u64) -> String {
    said::forked(&seq.to_string())
}

pub fn keep_to(row: &DoubtRow) -> String {
    let received = row
        .received_ms
        .map_or_else(|| "…".to_owned(), time::date_clock);
    said::keep_to(&row.says, &time::date_clock(row.time_ms), &received)
}

pub fn withdrawn(gone: &Gone) -> String {
    said::withdrawn(
        &time::date_clock(gone.from_ms),
        &gone.reason,
        &gone.last_seq.to_string(),
    )
}

pub fn roles(roles: Roles) -> String {
    let words: Vec<&str> = roles
        .list()
        .into_iter()
        .map(|role| super::engine::role(role).text())
        .collect();
    words.join(", ")
}

pub fn stay(joins_ms: Option<i64>, leaves_ms: Option<i64>) -> String {
    match (joins_ms, leaves_ms) {
        (None, None) => String::new(),
        (Some(from), None) => stays_from(&date(from)),
        (None, Some(until)) => stays_until(&date(until)),
        (Some(from), Some(until)) => stays_between(&date(from), &date(until)),
    }
}

/// What is known of a key, in one line.
pub fn key_facts(key: &KeyRow, now_ms: i64) -> String {
    let mut facts = vec![enrolled(&time::date_clock(key.enrolled_ms))];
    facts.push(match key.heard_ms {
        Some(at) => last_heard(&time::span((now_ms - at).max(0))),
        None => NOT_HEARD.into(),
    });
    facts.push(match key.signed_ms {
        Some(at) => signed_records(&key.records.to_string(), &time::date_clock(at)),
        None => NOTHING_SIGNED.into(),
    });
    if let Some(offset) = key.offset_ms.filter(|offset| offset.abs() > 2_000) {
        let span = time::span(offset.abs());
        facts.push(if offset > 0 {
            clock_ahead(&span)
        } else {
            clock_behind(&span)
        });
    }
    if key.protection == "software" {
        facts.push(KEPT_IN_SOFTWARE.into());
    }
    facts.push(good_until(&date(key.expires_ms)));
    facts.join(" · ")
}

/// Returns a day with its year.
fn date(ms: i64) -> String {
    time::date_clock(ms).chars().take(10).collect()
}
