//! The kinds of gear: data, as procedures are, so that a ship can add one.

use std::sync::OnceLock;

use serde::{Deserialize, Serialize};

use super::{DateKind, Room};
use crate::Decimal;
use crate::definition::Span;
use crate::parse::parse_gear_kinds;

/// A kind of gear.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct GearKind {
    /// Its short name, such as `gas-meter`.
    pub key: String,
    /// What it is called.
    pub name: String,
    /// What it is for, in one sentence.
    pub job: String,
    /// What procedures call it, in their `gear` and `uses`.
    pub gear: Vec<String>,
    /// Where it usually is.
    pub room: Room,
    /// There is one on each side, so that an item of the kind says on which it is.
    pub sided: bool,
    /// The dates without which, and after which, an item of the kind may not be used.
    pub dates: Vec<DateKind>,
    /// Its figures.
    pub figures: Vec<Figure>,
    /// How often it is looked at, tested or renewed.
    pub intervals: Vec<Interval>,
    /// Where the kind's figures and bounds come from.
    pub source: String,
}

/// A figure that items of a kind have.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Figure {
    /// Its name within the kind.
    pub key: String,
    /// What it is, in words.
    pub label: String,
    /// Unit; empty for a mere number.
    pub unit: String,
    /// The least that can be meant: less is a slip of the pen.
    pub min: Decimal,
    /// The most that can be meant.
    pub max: Decimal,
}

/// How often something is done to items of a kind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Interval {
    /// What is done.
    pub what: String,
    /// How often.
    pub every: Span,
    /// Who says so.
    pub source: String,
}

impl GearKind {
    /// Finds a figure.
    pub fn figure(&self, key: &str) -> Option<&Figure> {
        self.figures.iter().find(|figure| figure.key == key)
    }

    /// Writes it as a ship's own kinds are put on record; what is done at intervals is left out.
    pub fn text(&self) -> String {
        let quoted = |text: &str| {
            let plain: String = text
                .chars()
                .map(|sign| if sign.is_control() { ' ' } else { sign })
                .collect();
            format!("\"{}\"", plain.replace('\\', "\\\\").replace('"', "\\\""))
        };
        let list = |all: Vec<String>| format!("[{}]", all.join(", "));
        let mut lines = vec![
            "[[kind]]".to_owned(),
            format!("key = {}", quoted(&self.key)),
            format!("name = {}", quoted(&self.name)),
            format!("job = {}", quoted(&self.job)),
            format!(
                "gear = {}",
                list(self.gear.iter().map(|name| quoted(name)).collect())
            ),
            format!("room = {}", quoted(self.room.name())),
            format!("sided = {}", self.sided),
            format!(
                "dates = {}",
                list(self.dates.iter().map(|date| quoted(date.name())).collect())
            ),
            format!("source = {}", quoted(&self.source)),
        ];
        for figure in &self.figures {
            lines.extend([
                "\n[[kind.figure]]".to_owned(),
                format!("key = {}", quoted(&figure.key)),
                format!("label = {}", quoted(&figure.label)),
                format!("min = {}", figure.min),
                format!("max = {}", figure.max),
            ]);
            if !figure.unit.is_empty() {
                lines.push(format!("unit = {}", quoted(&figure.unit)));
            }
        }
        lines.push(String::new());
        lines.join("\n")
    }

    /// Returns whether procedures call it so.
    pub fn is_called(&self, gear: &str) -> bool {
        self.gear.iter().any(|name| name == gear)
    }
}

/// The kinds that ship with the program.
const TEXT: &str = include_str!("../../library/gear/kinds.toml");

/// Lists the kinds that ship with the program.
pub fn kinds() -> &'static [GearKind] {
    static KINDS: OnceLock<Vec<GearKind>> = OnceLock::new();
    KINDS.get_or_init(|| {
        parse_gear_kinds("kinds.toml", TEXT)
            .expect("invariant: a test reads the kinds of the library")
    })
}

/// Returns what the program calls a kind; its short name where only the ship knows it.
pub fn kind_name(key: &str) -> &str {
    kinds()
        .iter()
        .find(|kind| kind.key == key)
        .map_or(key, |kind| &kind.name)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the design of the register names at least.
    #[rustfmt::skip]
    const WANTED: &[&str] = &[
        "anchor", "cable", "length", "joining-shackle", "swivel", "windlass", "windlass-motor", "gypsy", "drum", "brake",
        "clutch", "chain-stopper", "devils-claw", "lashing", "chain-guide", "hawse-pipe", "spurling-pipe", "anchor-wash",
        "wash-pump", "locker-drain", "bitter-end", "foundation", "penetration", "enclosed-space", "hatch", "fan",
        "gas-meter", "breathing-set", "rescue-line", "tripod", "hydrant", "hose", "nozzle", "hose-box", "fire-pump",
        "emergency-fire-pump", "mooring-line", "tail", "stopper-line", "bollard", "fairlead", "ball", "anchor-light",
        "bell", "gong", "radio", "protective-gear",
    ];

    #[test]
    fn every_file_of_the_kinds_reads_and_has_all_that_are_wanted() {
        let kinds = match parse_gear_kinds("kinds.toml", TEXT) {
            Ok(kinds) => kinds,
            Err(mistakes) => {
                let lines: Vec<String> = mistakes.iter().map(ToString::to_string).collect();
                panic!("{}", lines.join("\n"));
            }
        };
        for wanted in WANTED {
            assert!(kinds.iter().any(|kind| kind.key == *wanted), "{wanted}");
        }
    }

    #[test]
    fn a_kind_that_is_written_reads_as_it_was() {
        for kind in kinds() {
            let mut plain = kind.clone();
            plain.intervals.clear();
            let read = parse_gear_kinds("own.toml", &plain.text());
            assert_eq!(read, Ok(vec![plain]), "{}", kind.key);
        }
        let mut odd = kinds()[0].clone();
        odd.intervals.clear();
        odd.job = "Says \"no\" to a \\ and to ü.".to_owned();
        assert_eq!(parse_gear_kinds("own.toml", &odd.text()), Ok(vec![odd]));
    }

    /// A source names who said it and when, or says that there is none, or that it was not opened.
    #[test]
    fn every_kind_and_every_interval_says_where_it_comes_from() {
        let is_said = |source: &str| {
            source.contains("common practice, no source")
                || source.contains("from memory, not opened")
                || (source.contains(char::is_numeric) && source.contains(", "))
        };
        for kind in kinds() {
            assert!(is_said(&kind.source), "{}: {}", kind.key, kind.source);
            for interval in &kind.intervals {
                assert!(
                    is_said(&interval.source),
                    "{}: {}",
                    kind.key,
                    interval.source
                );
            }
            assert!(kind.job.ends_with('.'), "{}: {}", kind.key, kind.job);
        }
    }

    #[test]
    fn what_procedures_put_to_work_has_a_kind() {
        for procedure in crate::library::all() {
            for name in procedure.steps().iter().flat_map(crate::Step::uses) {
                assert!(kinds().iter().any(|kind| kind.is_called(name)), "{name}");
            }
        }
    }
}
