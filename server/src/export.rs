//! Records as files that can be checked without this program.

use journal::board::{Proof, RunPage};
use journal::{Ledger, RunId};
use record::export::{DeviceKey, Header, write_export};
use std::fmt::Write as _;

/// Makes an export: the keys and credentials, then the signed records, byte for byte. With `run`, only the
/// records of that run and what vouches for them.
pub fn file(ledger: &Ledger, run: Option<RunId>) -> Vec<u8> {
    let mut records: Vec<_> = ledger
        .entries()
        .filter(|entry| match run {
            None => true,
            Some(run) => {
                entry.record.run() == Some(run)
                    || entry.record.id() == run
                    || journal::ledger::is_standing(entry.record.kind())
            }
        })
        .map(|entry| entry.record.clone())
        .collect();
    records.sort_by_key(|record| (record.hlc(), record.device(), record.seq(), record.id()));
    let authority = DeviceKey {
        key: ledger.authority(),
        credential: None,
    };
    let devices = ledger.holders().values().map(|holder| DeviceKey {
        key: holder.key,
        credential: Some(holder.signed.bytes().to_vec()),
    });
    let header = Header {
        vessel: ledger.vessel(),
        authority: ledger.authority(),
        run,
        devices: std::iter::once(authority).chain(devices).collect(),
        checkpoint: None,
        log: None,
    };
    write_export(&header, &records)
}

/// Quotes a field for CSV (RFC 4180), and disarms what a spreadsheet would take for a formula.
fn field(text: &str) -> String {
    let disarmed = if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    };
    if disarmed.contains(['"', ',', '\n', '\r']) {
        format!("\"{}\"", disarmed.replace('"', "\"\""))
    } else {
        disarmed
    }
}

fn time(ms: i64) -> String {
    chrono::DateTime::from_timestamp_millis(ms).map_or_else(String::new, |time| {
        time.to_rfc3339_opts(chrono::SecondsFormat::Millis, true)
    })
}

/// Makes a run's table (RFC 4180).
pub fn csv(page: &RunPage) -> String {
    let mut out = String::from(
        "vessel,procedure,record,device,number,device_time_utc,received_utc,author,says,proof\r\n",
    );
    for line in &page.records {
        let proof = match &line.proof {
            Proof::Holds => "holds".to_owned(),
            Proof::Fails(why) => format!("fails: {why}"),
        };
        let fields = [
            page.vessel.name.clone(),
            page.card.title.clone(),
            line.id.to_string(),
            line.device.to_string(),
            line.seq.to_string(),
            time(line.time_ms),
            line.received_ms.map(time).unwrap_or_default(),
            line.author.clone(),
            line.says.clone(),
            proof,
        ];
        let row: Vec<String> = fields.iter().map(|text| field(text)).collect();
        // Writing to a String cannot fail.
        let _ = write!(out, "{}\r\n", row.join(","));
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_with_commas_quotes_or_a_formula_is_made_harmless() {
        assert_eq!(field("plain"), "plain");
        assert_eq!(field("a, \"b\""), "\"a, \"\"b\"\"\"");
        assert_eq!(field("=1+1"), "'=1+1");
        assert_eq!(field("-5,0"), "\"'-5,0\"");
    }
}
