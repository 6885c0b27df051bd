//! Records as a table (RFC 4180), for a spreadsheet: a row for each value, with its step and its unit.

use super::time;
use journal::board::{self, Proof, RecordLine, RunPage};
use journal::{Body, Ledger, RunId};
use procedure::{Decimal, Event, Kind, LogEntry, Outcome, Procedure, StepId};
use std::fmt::Write as _;

/// The columns. Those of the first edition stand first, where programs look for them.
const HEAD: &str = "vessel,procedure,record,device,number,device_time_utc,received_utc,author,says,proof,\
                    run,step,point,value,unit\r\n";

/// One value that a record gives.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
struct Given {
    point: String,
    value: String,
    unit: String,
}

impl Given {
    fn plain(value: impl Into<String>) -> Self {
        Self {
            value: value.into(),
            ..Self::default()
        }
    }

    fn degrees(point: &str, value: Decimal) -> Self {
        Self {
            point: point.to_owned(),
            value: value.to_string(),
            unit: "deg".to_owned(),
        }
    }
}

fn read(kind: Option<&Kind>, key: &str, value: Decimal) -> Given {
    let points = kind.map(Kind::points).unwrap_or_default();
    let unit = points.iter().find(|point| point.key == key);
    Given {
        point: key.to_owned(),
        value: value.to_string(),
        unit: unit.map(|point| point.unit.clone()).unwrap_or_default(),
    }
}

fn logged(kind: Option<&Kind>, entry: &LogEntry) -> Vec<Given> {
    let mark = entry.mark.map(|mark| Given {
        point: "mark".to_owned(),
        value: mark.to_string(),
        unit: "shackles".to_owned(),
    });
    let readings = entry.readings.iter();
    let readings = readings.map(|(key, value)| read(kind, key, *value));
    mark.into_iter().chain(readings).collect()
}

/// Returns what an event gives, with the step that it is about.
fn given(procedure: Option<&Procedure>, event: &Event) -> (Option<StepId>, Vec<Given>) {
    let step = event.step().cloned();
    let known = step.as_ref().zip(procedure);
    let kind = known
        .and_then(|(step, procedure)| procedure.step(step))
        .map(|step| &step.kind);
    let values = match event {
        Event::Done { outcome, .. } => match outcome {
            Outcome::Confirmed | Outcome::Photo { .. } => Vec::new(),
            Outcome::Reading { point, value } => vec![read(kind, point, *value)],
            Outcome::Chosen { option } => vec![Given::plain(option)],
            Outcome::Item { item } => vec![Given::plain(item)],
            Outcome::Each { item, found } => vec![Given {
                point: item.clone(),
                ..Given::plain(found.words())
            }],
            Outcome::Names { who } => who.iter().map(|one| Given::plain(one.as_str())).collect(),
            Outcome::Counted { count } => {
                let unit = match kind {
                    Some(Kind::Count(count)) => count.of.clone(),
                    _ => String::new(),
                };
                vec![Given {
                    unit,
                    ..Given::plain(count.to_string())
                }]
            }
            Outcome::Position {
                lat_deg,
                lon_deg,
                accuracy_m,
            } => {
                let accuracy = accuracy_m.map(|metres| Given {
                    point: "accuracy".to_owned(),
                    value: metres.to_string(),
                    unit: "m".to_owned(),
                });
                let place = [
                    Given::degrees("latitude", *lat_deg),
                    Given::degrees("longitude", *lon_deg),
                ];
                place.into_iter().chain(accuracy).collect()
            }
            Outcome::Text { text } => vec![Given::plain(text)],
        },
        Event::Log { entry, .. } => logged(kind, entry),
        Event::Consent { granted, .. } => vec![Given::plain(if *granted { "yes" } else { "no" })],
        Event::In { who, .. } | Event::Out { who, .. } | Event::Attend { who, .. } => {
            vec![Given::plain(who.as_str())]
        }
        _ => Vec::new(),
    };
    (step, values)
}

/// Puts a `'` before what a spreadsheet would take for a formula: at the beginning, and after each sign at which one
/// of another country's cuts a line into cells, quoted or not.
fn disarmed(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 1);
    let mut is_start = true;
    for character in text.chars() {
        if is_start && matches!(character, '=' | '+' | '-' | '@' | '\t' | '\r') {
            out.push('\'');
        }
        out.push(character);
        is_start = match character {
            ';' | '\t' | '\n' | '\r' => true,
            // A quote or a blank before a formula does not keep it from being one.
            ' ' | '"' | '\u{a0}' | '\u{feff}' => is_start,
            _ => false,
        };
    }
    out
}

/// Quotes a field for CSV (RFC 4180), and disarms what a spreadsheet would take for a formula.
fn field(text: &str) -> String {
    let disarmed = disarmed(text);
    if disarmed.contains(['"', ',', ';', '\t', '\n', '\r']) {
        format!("\"{}\"", disarmed.replace('"', "\"\""))
    } else {
        disarmed
    }
}

fn row(page: &RunPage, line: &RecordLine, step: &str, given: &Given) -> String {
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
        page.card.run.to_string(),
        step.to_owned(),
        given.point.clone(),
        given.value.clone(),
        given.unit.clone(),
    ];
    let row: Vec<String> = fields.iter().map(|text| field(text)).collect();
    row.join(",")
}

/// Adds the rows of one run.
fn add(out: &mut String, ledger: &Ledger, page: &RunPage) {
    let procedure = ledger
        .run(page.card.run)
        .and_then(|run| run.procedure.as_deref());
    for line in &page.records {
        let body = ledger.entry(line.id).map(|entry| &entry.body);
        let (step, mut values) = match body {
            Some(Ok(Body::Run(event))) => given(procedure, event),
            _ => (None, Vec::new()),
        };
        let step = step.as_ref().map(StepId::as_str).unwrap_or_default();
        if values.is_empty() {
            values.push(Given::default());
        }
        for value in &values {
            // Writing to a String cannot fail.
            let _ = write!(out, "{}\r\n", row(page, line, step, value));
        }
    }
}

/// Makes a run's table; none where there is no such run.
pub fn of_run(ledger: &Ledger, run: RunId, now_ms: i64) -> Option<String> {
    let page = board::run_page(ledger, run, now_ms)?;
    let mut out = String::from(HEAD);
    add(&mut out, ledger, &page);
    Some(out)
}

/// Returns the head of a table, for the rows of [`rows`].
pub fn head() -> String {
    HEAD.to_owned()
}

/// Makes the rows of some runs, in that order; a run that is not in memory has none.
pub fn rows(ledger: &Ledger, runs: &[RunId], now_ms: i64) -> String {
    let mut out = String::new();
    for run in runs {
        if let Some(page) = board::run_page(ledger, *run, now_ms) {
            add(&mut out, ledger, &page);
        }
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
        assert_eq!(field("shackle; mark"), "\"shackle; mark\"");
        assert_eq!(field("a;=1+1"), "\"a;'=1+1\"");
        assert_eq!(field("a; \"=1\""), "\"a; \"\"'=1\"\"\"");
        assert_eq!(field(" @b\n+c\t-d"), "\" '@b\n'+c\t'-d\"");
        assert_eq!(field("2 - 1 = 1"), "2 - 1 = 1");
    }
}
