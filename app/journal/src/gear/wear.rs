//! How items wear: each measurement on record, the line through them, and when the item must be renewed.

use procedure::Settings;
use procedure::gear::{GearKind, ItemFile};
use seamanship::time::UtcMs;
use seamanship::units::Millimetres;
use seamanship::wear::{Measured, Renewal, renewal, trend_at};
use serde::{Deserialize, Serialize};

/// What wears of a kind of gear.
struct Wearing {
    kind: &'static str,
    /// The figure that is measured, mm.
    figure: &'static str,
    /// The setting that says the least.
    least: &'static str,
    /// The figure of which the setting is a percentage; none where it is in mm.
    of: Option<&'static str>,
}

/// What wears, figure by figure.
const WEARING: [Wearing; 2] = [
    Wearing {
        kind: "length",
        figure: "diameter",
        least: "chain_wear_min_pct",
        of: Some("new-diameter"),
    },
    Wearing {
        kind: "brake",
        figure: "lining",
        least: "lining_min",
        of: None,
    },
];

/// Into how many parts the line is cut for the drawing.
const PARTS: u32 = 24;
/// A drawing ends so far beyond the last measurement at most, ms: ten years, our own.
const AHEAD_MS: i64 = 10 * 31_557_600_000;

/// How one figure of an item wears.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Wear {
    /// What is measured, in words.
    pub label: String,
    /// When, ms UTC, and what was measured, mm; in order.
    pub points: Vec<(i64, f64)>,
    /// The least that is kept, mm; none where it is not known.
    pub least: Option<f64>,
    /// Where the least comes from.
    pub source: String,
    /// When it must be renewed; or why nobody can say.
    pub renewal: Result<Renewal, String>,
    /// The line: when, ms UTC, what it says, and half the width of its 95 % band, mm.
    pub line: Vec<(i64, f64, Option<f64>)>,
}

/// Lists what was measured of a figure: each change of it that a record brought.
fn measured(file: &ItemFile, figure: &str) -> Vec<(i64, f64)> {
    let mut points: Vec<(i64, f64)> = Vec::new();
    let mut last = None;
    for line in &file.lines {
        let value = line.state.card.figure(figure);
        if let Some(value) = value.filter(|value| last != Some(*value)) {
            points.push((line.at_ms, value.to_f64()));
            last = Some(value);
        }
    }
    points.sort_by_key(|point| point.0);
    points
}

/// Returns how an item's figures wear.
pub(super) fn wear(file: &ItemFile, kind: Option<&GearKind>, settings: &Settings) -> Vec<Wear> {
    let card = &file.now().card;
    let wearing = WEARING.iter().filter(|wearing| wearing.kind == card.kind);
    let of = |wearing: &Wearing| {
        let points = measured(file, wearing.figure);
        let setting = settings.get(wearing.least);
        let least = setting.and_then(|set| match wearing.of {
            None => Some(set.value.to_f64()),
            Some(of) => Some(card.figure(of)?.to_f64() * set.value.to_f64() / 100.0),
        });
        let all: Vec<Measured> = points
            .iter()
            .map(|(at, mm)| Measured {
                at: UtcMs(*at),
                diameter: Millimetres(*mm),
            })
            .collect();
        let found = match least {
            None => Err("nobody has said how thick it was when new".to_owned()),
            Some(least) => renewal(&all, Millimetres(least)).map_err(|why| why.to_string()),
        };
        let figure = kind.and_then(|kind| kind.figure(wearing.figure));
        (!points.is_empty()).then(|| Wear {
            label: figure
                .map_or(wearing.figure, |figure| &figure.label)
                .to_owned(),
            line: line(&all, found.as_ref().ok()),
            points,
            least,
            source: setting.map(|set| set.source.clone()).unwrap_or_default(),
            renewal: found,
        })
    };
    wearing.filter_map(of).collect()
}

/// Returns the line through the measurements, from the first until a little after the item must be renewed.
fn line(all: &[Measured], renewal: Option<&Renewal>) -> Vec<(i64, f64, Option<f64>)> {
    let times = || all.iter().map(|one| one.at.0);
    let (Some(first), Some(last)) = (times().min(), times().max()) else {
        return Vec::new();
    };
    let wanted = renewal.map_or(last, |found| found.latest.unwrap_or(found.expected).0);
    let end = wanted.clamp(last, last.saturating_add(AHEAD_MS));
    let moment = |part: u32| first + (end - first) / i64::from(PARTS) * i64::from(part);
    let at = |part: u32| {
        let at = moment(part);
        let trend = trend_at(all, UtcMs(at)).ok()?;
        Some((at, trend.diameter.0, trend.half_width_mm))
    };
    (0..=PARTS).filter_map(at).collect()
}
