//! The numbers that the watch judges by, each a setting with where it comes from.

use serde::{Deserialize, Serialize};

/// How sure a number is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Sureness {
    /// Read in the source named.
    Seen,
    /// In the source named, from memory.
    Memory,
    /// Common practice, or tried on replayed nights; no source.
    Practice,
}

/// A number with its name and origin, for showing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Number {
    /// Its name, which ends in its unit.
    pub name: &'static str,
    /// What the program takes where nobody sets it.
    pub value: f64,
    /// How sure it is.
    pub sureness: Sureness,
    /// Where it comes from, and why.
    pub source: &'static str,
}

macro_rules! numbers {
    ($($name:ident = $value:literal, $sureness:ident, $source:literal;)*) => {
        /// The numbers in force.
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        #[serde(default, deny_unknown_fields)]
        pub struct Limits {$(
            #[doc = $source]
            pub $name: f64,
        )*}

        impl Default for Limits {
            fn default() -> Self {
                Self {$($name: $value,)*}
            }
        }

        impl Limits {
            /// Every number with its origin.
            pub const NUMBERS: &[Number] = &[$(Number {
                name: stringify!($name),
                value: $value,
                sureness: Sureness::$sureness,
                source: $source,
            },)*];

            /// Returns the values in the order of [`NUMBERS`](Self::NUMBERS).
            pub fn values(&self) -> Vec<f64> {
                vec![$(self.$name,)*]
            }
        }
    };
}

numbers! {
    margin_differential_m = 10.0, Seen, "MSC.74(69), annex 1 part 3 as read in extracts: 10 m (95 %) with differential correction";
    margin_alone_m = 35.0, Seen, "MSC.74(69), annex 1 part 3 as read in extracts: 35 m (95 %) without correction. A receiver's error, added to the reach";
    hdop_most = 4.0, Seen, "MSC.74(69) gives its accuracy for HDOP up to 4";
    hdop_for_s = 5.0, Practice, "so that one fix of a poor geometry is passed over";
    no_fix_s = 30.0, Practice, "three slots without a fix";
    frozen_s = 60.0, Practice, "a receiver's place trembles in the fourth decimal of a minute";
    frozen_coarse_s = 180.0, Practice, "places of three decimals may stay for a while";
    heading_lost_s = 30.0, Practice, "as long as a fix";
    heading_frozen_s = 600.0, Practice, "the same heading while the anchor's bearing changes";
    reversed_s = 300.0, Practice, "her head away from the anchor with the wind ahead; twice as long without wind";
    other_lost_s = 120.0, Practice, "wind and depth may be slow";
    blind_alarm_s = 300.0, Practice, "a warning that nobody has mended by then is an alarm";
    outside_alarm_s = 60.0, Practice, "watch.3: three of five slots outside warn, a minute alarms";
    inside_clear_s = 120.0, Practice, "as long inside before the alarm is taken back";
    moves_noise_least_m = 20.0, Practice, "a receiver's slow wander between two times; the margin counts where it is more";
    moves_sure = 3.5, Practice, "how many times its own uncertainty the centre must have moved";
    moves_share = 0.75, Practice, "of what is needed, from the first third of the window to the last: a steady way makes two thirds";
    moves_alarm_min = 3.0, Practice, "minutes in a row with a moving centre make the alarm";
    moves_clear_min = 15.0, Practice, "minutes without before it is taken back";
    swing_deg = 60.0, Practice, "a head that was so far elsewhere: the cable may lie in a bight";
    slack_wind_kn = 5.0, Practice, "in less wind she lies to a slack cable";
    beam_deg = 45.0, Practice, "beyond this the wind is not ahead";
    beam_s = 180.0, Practice, "half a yaw is shorter";
    beam_wind_kn = 8.0, Practice, "in less wind her head says nothing";
    drift_kn = 0.3, Practice, "a drift downwind over a minute";
    tide_rate_m_h = 3.0, Practice, "no tide that one anchors in falls faster; faster is the bottom";
    shoaling_m = 2.0, Practice, "what a quarter of an hour must take off beyond the tide";
    wind_mean_s = 120.0, Memory, "the mean of two minutes that airfields report as the wind now";
    wind_clear_s = 600.0, Memory, "the mean of ten minutes by which weather services report wind";
    wind_squall = 1.2, Practice, "the short mean counts when it is so many times the limit";
    neighbour_near_m = 185.0, Practice, "one cable, a tenth of a mile";
    neighbour_s = 720.0, Practice, "about the time to weigh 110 m of cable at 9 m a minute";
    neighbour_fast_s = 360.0, Practice, "a ship under way passes, or alters, sooner";
    neighbour_close_m = 93.0, Practice, "half a cable";
    neighbour_close_s = 300.0, Practice, "time to start engines and veer";
    neighbour_closing_m = 60.0, Practice, "two ships that swing come closer by less within ten minutes";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_number_has_a_source_and_its_value_is_the_one_in_force() {
        let values = Limits::default().values();
        assert_eq!(values.len(), Limits::NUMBERS.len());
        for (number, value) in Limits::NUMBERS.iter().zip(values) {
            assert!(number.source.len() > 10, "{}", number.name);
            assert!((number.value - value).abs() < 1e-12, "{}", number.name);
        }
    }
}
