//! The ship's own settings: every number on which published sources disagree, with its source.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::Decimal;
use crate::cable::Cables;
use crate::definition::{Bound, Span};
use crate::rounds::DueDate;

mod bounds;
mod group;

pub use bounds::{SettingBounds, Standing};
pub use group::SettingGroup;

/// One setting of the ship's, with where it comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SettingValue {
    /// The number.
    pub value: Decimal,
    /// Its unit.
    pub unit: String,
    /// Where the number comes from.
    pub source: String,
    /// Which edition of that source, or who set it.
    pub edition: String,
    /// The master has confirmed it for this ship.
    pub confirmed: bool,
    /// Why it is beyond what is usual; empty where it is not.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reason: String,
}

/// The ship's settings, and the values computed for a run.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Settings {
    values: BTreeMap<String, SettingValue>,
    #[serde(default)]
    computed: BTreeMap<String, SettingValue>,
    /// The ship's cables, as her master has described them.
    #[serde(default, skip_serializing_if = "Cables::is_empty")]
    pub cables: Cables,
    /// Dates by which rounds are due whatever their interval, such as a survey's.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dates: Vec<DueDate>,
}

impl Settings {
    /// Makes settings with nothing set: every limit that names one is then unknown, and no reading passes.
    pub fn empty() -> Self {
        Self::default()
    }

    /// Makes the cautious settings that the program ships with, each with its source, none confirmed.
    pub fn defaults() -> Self {
        let mut settings = Self::default();
        for row in DEFAULTS {
            settings.values.insert(row.key.to_owned(), row.setting());
        }
        settings
    }

    /// Returns these settings with what the program ships with for every setting that they do not have: those that
    /// a newer edition of the program brought, and those that are beyond their bounds, not confirmed.
    #[must_use]
    pub fn over_defaults(&self) -> Self {
        let mut all = self.clone();
        all.values.retain(|key, value| bounds::may_be(key, value));
        for (key, value) in Self::defaults().values {
            all.values.entry(key).or_insert(value);
        }
        all
    }

    /// Sets one of the ship's settings.
    pub fn set(&mut self, key: impl Into<String>, value: SettingValue) {
        self.values.insert(key.into(), value);
    }

    /// Finds a setting.
    pub fn get(&self, key: &str) -> Option<&SettingValue> {
        self.values.get(key)
    }

    /// Finds a computed value.
    pub fn computed(&self, key: &str) -> Option<&SettingValue> {
        self.computed.get(key)
    }

    /// Lists the settings by name.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &SettingValue)> {
        self.values.iter().map(|(key, value)| (key.as_str(), value))
    }

    /// Lists the names of the settings that the program knows.
    pub fn names() -> impl Iterator<Item = &'static str> {
        DEFAULTS.iter().map(|row| row.key)
    }

    /// Returns what the program ships with for a setting.
    pub fn default_of(key: &str) -> Option<SettingValue> {
        DEFAULTS.iter().find(|row| row.key == key).map(Row::setting)
    }

    /// Returns what a setting is for, in words.
    pub fn words(key: &str) -> Option<&'static str> {
        DEFAULTS
            .iter()
            .find(|row| row.key == key)
            .map(|row| row.words)
    }

    pub(crate) fn bound(&self, bound: &Bound) -> Option<Decimal> {
        match bound {
            Bound::Number(number) => Some(*number),
            Bound::Setting(key) => self.get(key).map(|set| set.value),
            Bound::Computed(key) => self.computed(key).map(|set| set.value),
            // Only a run knows what it reads.
            Bound::Read { .. } => None,
        }
    }

    pub(crate) fn span_ms(&self, span: &Span) -> Option<i64> {
        match span {
            Span::Fixed(ms) => Some(*ms),
            Span::Setting(key) => self.get(key).and_then(SettingValue::span_ms),
            Span::Computed(key) => self.computed(key).and_then(SettingValue::span_ms),
        }
    }
}

impl SettingValue {
    /// Returns a setting that is a length of time in ms; `None` when its unit is no unit of time or the
    /// number is negative or beyond a century.
    pub fn span_ms(&self) -> Option<i64> {
        let unit_ms = match self.unit.as_str() {
            "s" => 1_000.0,
            "min" => 60_000.0,
            "h" => 3_600_000.0,
            "d" => 86_400_000.0,
            _ => return None,
        };
        let ms = (self.value.to_f64() * unit_ms).round();
        #[expect(
            clippy::cast_possible_truncation,
            reason = "within a century of ms, and whole"
        )]
        (0.0..=3.2e12).contains(&ms).then_some(ms as i64)
    }
}

struct Row {
    key: &'static str,
    value: &'static str,
    unit: &'static str,
    words: &'static str,
    source: &'static str,
    edition: &'static str,
}

impl Row {
    fn setting(&self) -> SettingValue {
        SettingValue {
            value: self
                .value
                .parse()
                .expect("invariant: the table below holds numbers"),
            unit: self.unit.to_owned(),
            source: self.source.to_owned(),
            edition: self.edition.to_owned(),
            confirmed: false,
            reason: String::new(),
        }
    }
}

const fn row(
    key: &'static str,
    value: &'static str,
    unit: &'static str,
    words: &'static str,
    source: &'static str,
    edition: &'static str,
) -> Row {
    Row {
        key,
        value,
        unit,
        words,
        source,
        edition,
    }
}

const NO_SOURCE: &str = "common practice, no source";
const MSC_581: &str = "IMO MSC.581(110), as summarised in class circulars";
const MARS_200836: &str = "The Nautical Institute, MARS report 200836, 'Anchors dislodged at sea'";
const LINES: &str =
    "IMO, MSC.1/Circ.1620, inspection of mooring equipment including lines, opened in excerpt";
const ENTRY_DRILL: &str =
    "IMO, SOLAS III/19.3.3 and 19.3.6, by MSC.350(92), as quoted in summaries, not opened";
const FIRE_DRILL: &str = "IMO, SOLAS III/19.3.2, from memory, not opened";
const INDUCTION: &str =
    "IMO, ISM Code 6.3 and STCW A-VI/1, familiarization, from memory, not opened";
const SURVEY: &str = "class and statutory annual surveys, from memory, not opened";
const UK_OEL: &str = "half of the UK 8 h exposure limit: HSE, EH40, from memory, not opened";

#[rustfmt::skip]
const DEFAULTS: &[Row] = &[
    row("air_o2_min", "20.9", "%", "least oxygen for entry", MSC_581, "2025"),
    row("air_o2_max", "21.5", "%", "most oxygen for entry; above it the space is enriched and burns", NO_SOURCE, "to be set by the ship"),
    row("air_lfl_below", "1", "% LFL", "flammable vapour, less than this part of its lower limit", MSC_581, "2025"),
    row("air_co_below", "10", "ppm", "carbon monoxide, less than", UK_OEL, "verify edition"),
    row("air_h2s_below", "2.5", "ppm", "hydrogen sulphide, less than", UK_OEL, "verify edition"),
    row("air_co2_below", "0.5", "%", "carbon dioxide, less than", MSC_581, "2025"),
    row("air_co2_tested", "1", "", "1: carbon dioxide is tested before an entry; 0: the company's meters have no cell for it", MSC_581, "2025; 0 is the company's own decision"),
    row("air_good_for", "30", "min", "how long a test of the air stays good", NO_SOURCE, "to be set by the ship"),
    row("air_settle", "10", "min", "how long the air stands after the fan stops, before the test", NO_SOURCE, "to be set by the ship"),
    row("vent_time", "60", "min", "least time of ventilation when none was computed", NO_SOURCE, "to be set by the ship"),
    row("locker_volume", "30", "m³", "free volume of the chain locker", NO_SOURCE, "to be set from the ship's plans"),
    row("locker_mixing", "5", "", "mixing factor of the locker's ventilation: 1 perfect, 10 very poor", "1 to 10: ACGIH, Industrial Ventilation, from memory, not opened; 5 for a blind heap is common practice, no source", "to be set by the ship"),
    row("fan_flow_min", "200", "m³/h", "least flow of the portable fan at the hose end", NO_SOURCE, "to be set by the ship"),
    row("permit_good_for", "8", "h", "how long an entry permit runs at most", NO_SOURCE, "to be set by the ship"),
    row("call_every", "5", "min", "how often people inside are called", NO_SOURCE, "to be set by the ship"),
    row("ba_min", "200", "bar", "least pressure of a breathing-apparatus bottle", NO_SOURCE, "to be set by the ship"),
    row("hydrant_min", "2.5", "bar", "least pressure at the bow hydrant, flowing", "IMO, SOLAS II-2/10.2.1.6, cargo ships under 6,000 GT, from memory, not opened", "verify for the ship's type"),
    row("hydrant_max", "8", "bar", "most pressure at which one hand can hold the hose", NO_SOURCE, "to be set by the ship"),
    row("wash_min", "3", "bar", "least pressure of the anchor wash", NO_SOURCE, "to be set by the ship"),
    row("hydraulic_min", "40", "bar", "least standby pressure of the windlass hydraulics", NO_SOURCE, "to be set from the maker's book"),
    row("hydraulic_max", "250", "bar", "most pressure of the windlass hydraulics", NO_SOURCE, "to be set from the maker's book"),
    row("oil_temp_max", "60", "°C", "most temperature of the hydraulic oil", NO_SOURCE, "to be set from the maker's book"),
    row("oil_level_min", "75", "%", "least level in the hydraulic tank", NO_SOURCE, "to be set from the maker's book"),
    row("lining_min", "6", "mm", "least thickness of the brake lining", NO_SOURCE, "to be set from the maker's book"),
    row("sog_walk_max", "0.3", "kn", "most speed over the ground while walking out", NO_SOURCE, "to be set by the ship"),
    row("sog_let_go_max", "0.5", "kn", "most speed over the ground when letting go", NO_SOURCE, "to be set by the ship"),
    row("ukc_min", "2", "m", "least water under the keel in the swinging circle", NO_SOURCE, "to be set by the ship"),
    row("watch_every", "30", "min", "how often the anchor watch takes its bearings", NO_SOURCE, "to be set by the ship"),
    row("watch_wind_call", "15", "kn", "wind at anchor at which the master is called", NO_SOURCE, "the master's standing limit, to be set by the ship"),
    row("watch_wind_engines", "20", "kn", "wind at anchor at which engines are made ready", NO_SOURCE, "the master's standing limit, to be set by the ship"),
    row("watch_wind_weigh", "25", "kn", "wind at anchor at which she weighs", NO_SOURCE, "the master's standing limit, to be set by the ship"),
    row("rope_age_max", "5", "years", "most age of a mooring line in use", NO_SOURCE, "to be set from the ship's line management plan"),
    row("hose_test_pressure", "8", "bar", "pressure at which a fire hose is tested: the most the main can give", "IMO, MSC.1/Circ.1432, 2012, 7.1.4, maximum fire-main pressure, as quoted, not opened; the number is the ship's own", "as amended by Circ.1516"),
    row("hose_test_hold", "3", "min", "how long a hose holds its test pressure", NO_SOURCE, "to be set by the ship"),
    row("hose_all", "1825", "d", "within how long every fire hose is tested", "IMO, MSC.1/Circ.1432, 2012, 7.1.4, all within five years; as quoted in summaries, not opened", "as amended by Circ.1516"),
    row("hose_length_max", "20", "m", "most length of a hose on deck", "IMO, SOLAS II-2/10.2.3: 20 m elsewhere and on open deck; from memory, not opened", "verify for the ship's type"),
    row("hose_length_min", "10", "m", "least length of a hose", "IMO, SOLAS II-2/10.2.3: not less than 10 m; from memory, not opened", "verify for the ship's type"),
    row("chain_wear_min_pct", "88", "%", "least mean diameter of a link, of its new diameter", "IACS, unified requirement Z7: 12 % of diameter, from memory, not opened; older class lists say 11 %", "verify with class"),
    row("weekly", "7", "d", "how often the weekly windlass round is due", NO_SOURCE, "to be set by the ship"),
    row("monthly", "30", "d", "how often the monthly windlass round is due", NO_SOURCE, "to be set from the ship's maintenance plan"),
    row("yearly", "365", "d", "how often a sample of the fire hoses is tested", "IMO, MSC.1/Circ.1432, 2012, 7.1.4, yearly; as quoted in summaries, not opened", "as amended by Circ.1516"),
    row("chain_survey", "1825", "d", "how often a cable is ranged and measured", "IACS, unified requirement Z7, special survey every five years; from memory, not opened", "verify with class"),
    row("marks_look", "365", "d", "how often the marks of a cable are painted and wired anew", NO_SOURCE, "to be set by the ship"),
    row("lines_look", "90", "d", "how often the mooring lines and fittings are inspected", LINES, "2020; the company's plan says how often, and the number is common practice, no source"),
    row("drill_entry", "60", "d", "how often entry and rescue are drilled, and how long one drill keeps a person in date", ENTRY_DRILL, "2013; at intervals not exceeding two months"),
    row("drill_fire", "30", "d", "how often the fire hoses are drilled, and how long one drill keeps a person in date", FIRE_DRILL, "each of the crew takes part in one every month"),
    row("induction_good_for", "365", "d", "how long an induction to the foredeck keeps a person in date", INDUCTION, "the number is common practice, no source"),
    row("survey_every", "365", "d", "how often what the surveyor will ask for is gathered", SURVEY, "verify with class and flag"),
    row("sea_look", "24", "h", "how often the sea lashings are looked at, at sea", MARS_200836, "2008"),
    row("lashings_min", "4", "", "least sea lashings, both anchors together", MARS_200836, "2008; two on each anchor"),
    row("grease_points", "1", "", "grease points of the windlass on the ship's plan", NO_SOURCE, "to be set from the maker's book"),
    row("watch_length", "4", "h", "how long an anchor watch is kept before it is handed over", NO_SOURCE, "to be set by the ship"),
    row("key_open", "30", "min", "how long a phone's key stays open without a press while a run is worked", NO_SOURCE, "to be set by the ship"),
    row("shared_wash", "1", "", "1: the anchor wash is fed from the fire main; 0: it has its own pump", NO_SOURCE, "to be set by the ship"),
];
