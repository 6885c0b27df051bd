//! The ship's limits and cables as a table of comma-separated values, out and in: for paper, and for a sister ship.
//!
//! What comes in is a proposal: whatever it changes is not confirmed, until this ship's master has looked at it.

use crate::csv::{self, Row, TableFault, field};
use procedure::cable::{BOTH, Side};
use procedure::{Cable, Decimal, SettingBounds, SettingValue, Settings, Standing};
use std::fmt::Write as _;

/// The headings, in the order in which they go out.
const HEADINGS: [&str; 6] = ["setting", "value", "unit", "source", "edition", "reason"];

/// What a row of a cable is called; its unit is what stays inboard, in metres.
const fn cable_key(side: Side) -> &'static str {
    match side {
        Side::Port => "cable-port",
        Side::Starboard => "cable-starboard",
    }
}

/// A table that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct FilledLimits {
    /// The settings as they are put in force.
    pub settings: Settings,
    /// How many numbers become others, to be confirmed anew.
    pub changed: usize,
    /// Whose cables are described by it.
    pub cables: Vec<Side>,
}

/// Writes the settings that the program knows, and the cables that are described, as a table.
pub fn write_limits(settings: &Settings) -> String {
    let mut out = HEADINGS.join(",");
    out.push_str("\r\n");
    let mut line = |fields: [&str; 6]| {
        let fields = fields.map(field).join(",");
        // Writing to memory cannot fail.
        let _ = write!(out, "{fields}\r\n");
    };
    for (key, set) in settings.iter() {
        if Settings::words(key).is_some() {
            let value = set.value.to_string();
            line([
                key,
                &value,
                &set.unit,
                &set.source,
                &set.edition,
                &set.reason,
            ]);
        }
    }
    for side in BOTH {
        if let Some(cable) = settings.cables.of(side) {
            let (lengths, keep) = (
                cable.text().replace('\n', "; "),
                format!("keep {}", cable.keep_m),
            );
            line([cable_key(side), &lengths, &keep, "", "", ""]);
        }
    }
    out
}

/// Reads one row into the settings; says whether it changes them.
fn take(
    all: &mut Settings,
    get: &dyn Fn(&str) -> String,
    key: &str,
) -> Result<bool, (&'static str, String)> {
    let known = Settings::default_of(key)
        .ok_or_else(|| ("setting", format!("{key:?} is no setting of this program")))?;
    let value: Decimal = get("value")
        .parse()
        .map_err(|_| ("value", format!("{:?} is no number", get("value"))))?;
    let unit = get("unit");
    if unit != known.unit && !unit.is_empty() {
        return Err((
            "unit",
            format!("{key} is in {:?}, not in {unit:?}", known.unit),
        ));
    }
    let source = get("source");
    if source.is_empty() {
        return Err(("source", "no source is named".to_owned()));
    }
    let mut reason = get("reason");
    let bounds = SettingBounds::of(key);
    match bounds.as_ref().map(|bounds| (bounds, bounds.judge(value))) {
        Some((bounds, Standing::Refused)) => {
            let what = format!(
                "{value} is not between {} and {}",
                bounds.least, bounds.most
            );
            return Err(("value", what));
        }
        Some((_, Standing::WantsReason)) if reason.is_empty() => {
            return Err((
                "reason",
                "it is beyond what is usual and gives no reason".to_owned(),
            ));
        }
        Some((_, Standing::WantsReason)) => {}
        _ => reason = String::new(),
    }
    let new = SettingValue {
        value,
        unit: known.unit,
        source,
        edition: get("edition"),
        confirmed: false,
        reason,
    };
    // What is the same already stays as it was confirmed.
    let is_same = all.get(key).is_some_and(|old| {
        let confirmed = old.confirmed;
        *old == SettingValue {
            confirmed,
            ..new.clone()
        }
    });
    if !is_same {
        all.set(key, new);
    }
    Ok(!is_same)
}

/// Reads a row that describes a cable.
fn take_cable(get: &dyn Fn(&str) -> String) -> Result<Cable, (&'static str, String)> {
    let keep = get("unit");
    let keep = keep.strip_prefix("keep").unwrap_or(&keep).trim();
    let lengths = get("value").replace(';', "\n");
    Cable::parse(&lengths, keep).map_err(|why| ("value", why.to_string()))
}

/// Reads a table of limits and cables over the settings that a ship has.
///
/// # Errors
/// Everything that is wrong with it, by line and column; then nothing is taken.
pub fn read_limits(settings: &Settings, text: &str) -> Result<FilledLimits, Vec<TableFault>> {
    let (head, rows) = csv::read(text)?;
    let mut faults = csv::wrong_headings(&head, &HEADINGS, &HEADINGS[..4]);
    if !faults.is_empty() {
        return Err(faults);
    }
    let headings = csv::headings(&head);
    let get_of = |row: &Row, heading: &str| csv::get(&headings, row, heading).to_owned();
    let mut filled = FilledLimits {
        settings: settings.clone(),
        changed: 0,
        cables: Vec::new(),
    };
    let mut seen: Vec<String> = Vec::new();
    for row in &rows {
        let get = |heading: &str| get_of(row, heading);
        let key = get("setting");
        let side = BOTH.into_iter().find(|side| cable_key(*side) == key);
        let taken = if seen.contains(&key) {
            Err(("setting", format!("{key:?} stands twice")))
        } else if let Some(side) = side {
            take_cable(&get).map(|cable| {
                if filled.settings.cables.of(side) != Some(&cable) {
                    filled.settings.cables.set(side, cable);
                    filled.cables.push(side);
                }
            })
        } else {
            take(&mut filled.settings, &get, &key)
                .map(|is_other| filled.changed += usize::from(is_other))
        };
        if let Err((column, what)) = taken {
            let (line, column) = (row.line, column.to_owned());
            faults.push(TableFault { line, column, what });
        }
        seen.push(key);
    }
    if faults.is_empty() && filled.changed == 0 && filled.cables.is_empty() {
        faults.push(TableFault::of_all(
            "there is nothing in it that is not so already".to_owned(),
        ));
    }
    if faults.is_empty() {
        Ok(filled)
    } else {
        Err(faults)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sister() -> Settings {
        let mut settings = Settings::defaults();
        let own = SettingValue {
            value: "55".parse().expect("a number"),
            unit: "bar".to_owned(),
            source: "the maker's book, page 12".to_owned(),
            edition: "2021".to_owned(),
            confirmed: true,
            reason: String::new(),
        };
        settings.set("hydraulic_min", own);
        let cable = Cable::parse("27.5 white\n27 red\n27.5", "10").expect("a cable");
        settings.cables.set(Side::Port, cable);
        settings
    }

    #[test]
    fn a_sister_ships_limits_come_in_as_they_went_out_and_none_is_confirmed() {
        let out = write_limits(&sister());
        let filled = read_limits(&Settings::defaults(), &out).expect("it reads");
        assert_eq!(filled.changed, 1, "all others are the program's on both");
        assert_eq!(filled.cables, [Side::Port]);
        let taken = filled.settings.get("hydraulic_min").expect("it is there");
        assert_eq!(
            (taken.value.to_string().as_str(), taken.confirmed),
            ("55", false)
        );
        assert_eq!(taken.source, "the maker's book, page 12");
        assert_eq!(filled.settings.cables, sister().cables);
        assert_eq!(filled.settings.iter().count(), sister().iter().count());
    }

    #[test]
    fn what_is_the_same_stays_confirmed_and_nothing_new_is_said_to_be_nothing() {
        let faults = read_limits(&sister(), &write_limits(&sister())).expect_err("nothing new");
        assert!(faults[0].what.contains("not so already"), "{faults:?}");
        let mut other = sister();
        other.cables = procedure::cable::Cables::default();
        let filled = read_limits(&other, &write_limits(&sister())).expect("a cable");
        assert!(
            filled
                .settings
                .get("hydraulic_min")
                .is_some_and(|set| set.confirmed)
        );
    }

    #[test]
    fn what_is_wrong_is_said_by_line_and_column_and_nothing_is_taken() {
        let check = |row: &str, column: &str, said: &str| {
            let text = format!("setting,value,unit,source,edition,reason\n{row}\n");
            let faults = read_limits(&Settings::defaults(), &text).expect_err(row);
            assert_eq!(
                (faults[0].line, faults[0].column.as_str()),
                (2, column),
                "{row}"
            );
            assert!(faults[0].what.contains(said), "{row}: {}", faults[0].what);
        };
        check("hydraulic_mid,4,bar,x,,", "setting", "no setting");
        check("hydraulic_min,much,bar,x,,", "value", "no number");
        check("hydraulic_min,4000,bar,x,,", "value", "not between");
        check("hydraulic_min,50,psi,x,,", "unit", "not in \"psi\"");
        check("hydraulic_min,50,bar,,,", "source", "no source");
        check("air_o2_min,20,%,the company,,", "reason", "no reason");
        check("cable-port,27.5 pink,keep 10,,,", "value", "no paint");
        let twice = "setting,value,unit,source\nwash_min,4,bar,x\nwash_min,5,bar,x\n";
        let faults = read_limits(&Settings::defaults(), twice).expect_err("twice");
        assert_eq!(faults[0].line, 3);
    }
}
