//! The gear of the demo's ships, invented: a table as a ship would fill one in, taken in as she would.

use journal::body::GearBody;
use journal::gear::read_table;
use journal::{Body, Ledger};
use procedure::gear::Day;

/// The table; `{9}` stands for the date in nine days.
const TABLE: &str = include_str!("gear.csv");
const DAY_MS: i64 = 86_400_000;

/// Fills the dates in that are said as days from now.
fn dated(now_ms: i64) -> String {
    let mut out = String::with_capacity(TABLE.len());
    for part in TABLE.split_inclusive('}') {
        let Some((before, days)) = part
            .strip_suffix('}')
            .and_then(|part| part.rsplit_once('{'))
        else {
            out.push_str(part);
            continue;
        };
        let days: i64 = days.parse().unwrap_or(0);
        out.push_str(before);
        out.push_str(&Day::of_ms(now_ms + days * DAY_MS).to_string());
    }
    out
}

/// Makes the record's body for a ship whose cables are described.
///
/// # Errors
/// What is wrong with the table, in words.
pub fn body(ledger: &Ledger, now_ms: i64) -> Result<Body, String> {
    let filled = read_table(ledger.register(), &dated(now_ms), "demo", now_ms);
    let filled = filled.map_err(|faults| {
        let faults: Vec<String> = faults.iter().map(ToString::to_string).collect();
        faults.join("; ")
    })?;
    Ok(Body::Gear(GearBody {
        changes: filled.changes,
        reason: "the register is set up".to_owned(),
    }))
}
