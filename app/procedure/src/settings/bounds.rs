//! What a setting may be: bounds that no master can pass, and within them a zone that asks for no reason.

use crate::Decimal;

use super::{NO_SOURCE, SettingValue};

/// The bounds of one setting.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SettingBounds {
    /// The least that is taken.
    pub least: Decimal,
    /// The most that is taken.
    pub most: Decimal,
    /// Less than this wants a reason.
    pub usual_least: Decimal,
    /// More than this wants a reason.
    pub usual_most: Decimal,
    /// Where the outer bounds come from.
    pub source: &'static str,
}

/// How a number stands to its bounds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing {
    /// It is taken.
    Usual,
    /// It is taken with a reason.
    WantsReason,
    /// It is never taken.
    Refused,
}

impl SettingBounds {
    /// Returns the bounds of a setting that the program knows.
    pub fn of(key: &str) -> Option<Self> {
        BOUNDS.iter().find(|row| row.0 == key).map(|row| {
            let number = |text: &str| {
                text.parse()
                    .expect("invariant: the table below holds numbers")
            };
            Self {
                least: number(row.1),
                usual_least: number(row.2),
                usual_most: number(row.3),
                most: number(row.4),
                source: row.5,
            }
        })
    }

    /// Says how a number stands to these bounds; both ends belong to what is taken.
    pub fn judge(&self, value: Decimal) -> Standing {
        let (least, most) = (self.least.to_f64(), self.most.to_f64());
        let usual = self.usual_least.to_f64()..=self.usual_most.to_f64();
        let value = value.to_f64();
        if !(least..=most).contains(&value) {
            Standing::Refused
        } else if usual.contains(&value) {
            Standing::Usual
        } else {
            Standing::WantsReason
        }
    }
}

/// Says whether a setting's value is one that may be in force. Those that the program does not know are the ship's own.
pub(super) fn may_be(key: &str, value: &SettingValue) -> bool {
    SettingBounds::of(key).is_none_or(|bounds| bounds.judge(value.value) != Standing::Refused)
}

const OSHA_AIR: &str = "29 CFR 1910.146(b), hazardous atmosphere: oxygen under 19.5 % or over 23.5 %, flammable gas over 10 % of its lower limit; from memory";
const OEL_CO: &str = "OSHA's limit for 8 h, 50 ppm; the usual end is the UK's, 20 ppm; from memory";
const OEL_H2S: &str =
    "NIOSH's ceiling, 10 ppm; the usual end is the UK's limit for 8 h, 5 ppm; from memory";
const OEL_CO2: &str =
    "UK limit for 15 min, 15,000 ppm; the usual end is IMO MSC.581(110); from memory";
const CLASS_WEAR: &str = "class practice, 12 % of diameter";
const CLASS_SURVEY: &str =
    "IACS, unified requirement Z7: five years and a few months at most; from memory, not opened";
const TWO_MONTHS: &str =
    "SOLAS III/19.3.3: at least once every two months; from memory, not opened";
const ONE_MONTH: &str =
    "SOLAS III/19.3.2: each of the crew in at least one every month; from memory, not opened";
const A_YEAR: &str =
    "class practice, a year with three months on either side; from memory, not opened";
const MIXING: &str = "occupational-health guidelines, 1 to 10";

/// Name; least, usual from, usual to, most; source of the outer two.
#[rustfmt::skip]
const BOUNDS: &[(&str, &str, &str, &str, &str, &str)] = &[
    ("air_o2_min", "19.5", "20.9", "20.9", "20.9", OSHA_AIR),
    ("air_o2_max", "20.9", "20.9", "22", "23.5", OSHA_AIR),
    ("air_lfl_below", "0.1", "0.1", "1", "10", OSHA_AIR),
    ("air_co_below", "1", "1", "20", "50", OEL_CO),
    ("air_h2s_below", "0.1", "0.1", "5", "10", OEL_H2S),
    ("air_co2_below", "0.05", "0.05", "0.5", "1.5", OEL_CO2),
    ("air_co2_tested", "0", "1", "1", "1", "a yes or a no"),
    ("air_good_for", "5", "5", "30", "60", NO_SOURCE),
    ("air_settle", "5", "10", "120", "1440", NO_SOURCE),
    ("vent_time", "10", "30", "1440", "2880", NO_SOURCE),
    ("locker_volume", "0.5", "1", "500", "5000", NO_SOURCE),
    ("locker_mixing", "1", "3", "10", "10", MIXING),
    ("fan_flow_min", "50", "100", "10000", "50000", NO_SOURCE),
    ("permit_good_for", "0.5", "0.5", "8", "12", NO_SOURCE),
    ("call_every", "1", "1", "10", "15", NO_SOURCE),
    ("ba_min", "150", "200", "300", "330", NO_SOURCE),
    ("hydrant_min", "1", "2", "8", "12", NO_SOURCE),
    ("hydrant_max", "2", "4", "10", "16", NO_SOURCE),
    ("wash_min", "0.5", "1", "12", "20", NO_SOURCE),
    ("hydraulic_min", "1", "5", "200", "400", NO_SOURCE),
    ("hydraulic_max", "10", "50", "320", "450", NO_SOURCE),
    ("oil_temp_max", "20", "40", "70", "90", NO_SOURCE),
    ("oil_level_min", "25", "50", "100", "100", NO_SOURCE),
    ("lining_min", "1", "3", "40", "60", NO_SOURCE),
    ("sog_walk_max", "0.1", "0.1", "0.5", "1", NO_SOURCE),
    ("sog_let_go_max", "0.1", "0.1", "1", "2", NO_SOURCE),
    ("ukc_min", "0.3", "1", "20", "100", NO_SOURCE),
    ("watch_every", "1", "5", "60", "120", NO_SOURCE),
    ("watch_wind_call", "1", "5", "30", "60", NO_SOURCE),
    ("watch_wind_engines", "1", "5", "35", "60", NO_SOURCE),
    ("watch_wind_weigh", "1", "5", "40", "60", NO_SOURCE),
    ("rope_age_max", "1", "1", "7", "10", NO_SOURCE),
    ("hose_test_pressure", "2", "4", "12", "25", NO_SOURCE),
    ("hose_test_hold", "1", "1", "30", "120", NO_SOURCE),
    ("hose_all", "30", "365", "1830", "1830", "MSC.1/Circ.1432, 7.1.4: all hoses within five years; from memory"),
    ("hose_length_max", "10", "15", "20", "25", "SOLAS II-2/10.2.3: 15 m in machinery spaces, 20 m elsewhere, 25 m on open decks of wide ships, from memory"),
    ("hose_length_min", "5", "10", "20", "20", "SOLAS II-2/10.2.3: not less than 10 m"),
    ("chain_wear_min_pct", "88", "88", "100", "100", CLASS_WEAR),
    ("weekly", "1", "1", "7", "14", NO_SOURCE),
    ("monthly", "1", "7", "31", "45", NO_SOURCE),
    ("yearly", "1", "180", "366", "400", NO_SOURCE),
    ("chain_survey", "30", "180", "1830", "2200", CLASS_SURVEY),
    ("marks_look", "30", "90", "366", "800", NO_SOURCE),
    ("lines_look", "7", "30", "183", "366", NO_SOURCE),
    ("drill_entry", "7", "14", "61", "62", TWO_MONTHS),
    ("drill_fire", "7", "7", "31", "31", ONE_MONTH),
    ("induction_good_for", "30", "90", "366", "1100", NO_SOURCE),
    ("survey_every", "90", "180", "366", "460", A_YEAR),
    ("sea_look", "1", "4", "24", "24", NO_SOURCE),
    ("lashings_min", "2", "4", "12", "20", NO_SOURCE),
    ("grease_points", "1", "1", "60", "200", NO_SOURCE),
    ("watch_length", "1", "2", "6", "12", NO_SOURCE),
    ("key_open", "10", "10", "60", "120", "from ten minutes, as without a run, to two hours, half a watch: common practice, no source"),
    ("shared_wash", "0", "0", "1", "1", "a yes or a no"),
];

#[cfg(test)]
mod tests {
    use super::super::Settings;
    use super::*;

    #[test]
    fn each_setting_has_bounds_in_order_and_what_the_program_ships_with_is_usual() {
        for key in Settings::names() {
            let bounds = SettingBounds::of(key).unwrap_or_else(|| panic!("{key} has no bounds"));
            let ends = [
                bounds.least,
                bounds.usual_least,
                bounds.usual_most,
                bounds.most,
            ];
            assert!(ends.is_sorted(), "{key}: {ends:?}");
            let shipped = Settings::default_of(key).expect("it is one").value;
            assert_eq!(bounds.judge(shipped), Standing::Usual, "{key}");
            assert!(!bounds.source.is_empty(), "{key}");
        }
        assert_eq!(BOUNDS.len(), Settings::names().count());
    }

    /// 19.5 % is where 29 CFR 1910.146 begins to call an atmosphere oxygen-deficient, 23.5 % enriched.
    #[test]
    fn no_master_lowers_oxygen_under_what_the_law_calls_deficient() {
        let oxygen = SettingBounds::of("air_o2_min").expect("bounds");
        let judge = |text: &str| oxygen.judge(text.parse().expect("a number"));
        assert_eq!(judge("2.09"), Standing::Refused);
        assert_eq!(judge("19.4"), Standing::Refused);
        assert_eq!(judge("19.5"), Standing::WantsReason);
        assert_eq!(judge("20.8"), Standing::WantsReason);
        assert_eq!(judge("20.9"), Standing::Usual);
        assert_eq!(judge("-20.9"), Standing::Refused);
    }

    #[test]
    fn a_value_beyond_its_bounds_that_stands_on_record_is_never_in_force() {
        let mut settings = Settings::defaults();
        let mut wrong = settings.get("air_o2_min").expect("it is one").clone();
        wrong.value = "2.09".parse().expect("a number");
        wrong.confirmed = true;
        settings.set("air_o2_min", wrong);
        let held = settings.over_defaults();
        assert_eq!(
            held.get("air_o2_min"),
            Settings::default_of("air_o2_min").as_ref()
        );
    }
}
