//! How much cable to veer: the handbook rules, by name. They disagree.

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, above_zero, at_least_zero, within};
use crate::units::Metres;

/// What a person must know before relying on a rule of thumb.
pub const CAUTION: &str = "A rule of thumb for a ship's cable in fair holding ground: it knows \
    neither this ship's windage nor this weather.";

/// A handbook rule for the length of cable.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CableRule {
    /// 1.5 √D shackles: forged steel cable.
    RootForged,
    /// 2 √D shackles: special steel, thinner and lighter.
    RootSpecial,
    /// 39 √D metres.
    Root39,
    /// 3 D + 90 m.
    FineWeather,
    /// 4 D + 145 m.
    RoughWeather,
    /// 5 D.
    Scope5,
    /// 6 D.
    Scope6,
    /// 7 D.
    Scope7,
    /// 10 D, the scope at which high-holding anchors are tested.
    HighHoldingTest,
    /// 4 D, small craft on all chain.
    SmallCraft,
    /// 3.5 D, deep water.
    DeepWater,
}

/// Which depth a rule counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RuleDepth {
    /// Depth of water at the highest tide of the stay.
    Water,
    /// Height of the hawse above the bottom at the highest tide of the stay: the cautious one.
    #[default]
    Hawse,
}

impl CableRule {
    /// All rules, in the order in which they are shown.
    pub const ALL: [Self; 11] = [
        Self::RootForged,
        Self::RootSpecial,
        Self::Root39,
        Self::FineWeather,
        Self::RoughWeather,
        Self::Scope5,
        Self::Scope6,
        Self::Scope7,
        Self::HighHoldingTest,
        Self::SmallCraft,
        Self::DeepWater,
    ];

    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::RootForged => "Root rule, forged steel",
            Self::RootSpecial => "Root rule, special steel",
            Self::Root39 => "39 root D",
            Self::FineWeather => "Fine weather",
            Self::RoughWeather => "Rough weather",
            Self::Scope5 => "Scope 5",
            Self::Scope6 => "Scope 6",
            Self::Scope7 => "Scope 7",
            Self::HighHoldingTest => "High-holding test scope",
            Self::SmallCraft => "Small craft, all chain",
            Self::DeepWater => "Deep water",
        }
    }

    /// Its formula, D in metres.
    pub const fn formula(self) -> &'static str {
        match self {
            Self::RootForged => "1.5 √D shackles",
            Self::RootSpecial => "2 √D shackles",
            Self::Root39 => "39 √D m",
            Self::FineWeather => "3 D + 90 m",
            Self::RoughWeather => "4 D + 145 m",
            Self::Scope5 => "5 D",
            Self::Scope6 => "6 D",
            Self::Scope7 => "7 D",
            Self::HighHoldingTest => "10 D",
            Self::SmallCraft => "4 D",
            Self::DeepWater => "3.5 D",
        }
    }

    /// Where it is said, and for what.
    pub const fn source(self) -> &'static str {
        match self {
            Self::RootForged => {
                "Admiralty Manual of Seamanship, forged steel cable, from memory; normal weather, \
                 good holding, one night"
            }
            Self::RootSpecial => {
                "Admiralty Manual of Seamanship, special-quality steel cable, from memory; also \
                 used as the bad-weather figure, common practice, no source"
            }
            Self::Root39 => {
                "A seamanship page that calls it 1.5 √D, which is 5 % more; normal weather"
            }
            Self::FineWeather => {
                "Japan P&I loss-prevention bulletin, from memory; wind to about 20 m/s"
            }
            Self::RoughWeather => {
                "Japan P&I loss-prevention bulletin, from memory; wind to about 30 m/s"
            }
            Self::Scope5 | Self::Scope6 | Self::Scope7 => {
                "Naval science textbook: 5 to 7 times the depth, under about 36 m; 6 is the least \
                 scope behind the class equipment table (IACS UR A1, A1.1.4)"
            }
            Self::HighHoldingTest => {
                "Class conditions for testing high-holding anchors: 10 times the depth keeps the \
                 shank level"
            }
            Self::SmallCraft => {
                "Sail-training skipper's tip: 4 times the greatest depth from the bow; small \
                 yachts in settled weather"
            }
            Self::DeepWater => {
                "Common practice, no source: 3 to 4 times the depth beyond 50 m, trusting the \
                 weight of the chain"
            }
        }
    }

    /// Returns the length from the hawse to the anchor that the rule asks for.
    ///
    /// # Units
    /// `depth` D and `shackle_length` in m · returns m.
    ///
    /// # Source
    /// [`source`](Self::source).
    ///
    /// # Validity
    /// Scopes 5 to 7: D to 37 m (20 fathoms). Deep water: D from 50 m. The rest to 150 m.
    ///
    /// # Errors
    /// [`OutOfRange`] outside these depths, or for a shackle not of 15 to 40 m.
    pub fn length(self, depth: Metres, shackle_length: Metres) -> Result<Metres, OutOfRange> {
        let d = at_least_zero("depth_m", depth.0)?;
        let shackle = within("shackle_length_m", shackle_length.0, 15.0, 40.0)?;
        let (least, most) = match self {
            Self::Scope5 | Self::Scope6 | Self::Scope7 => (0.0, 37.0),
            Self::DeepWater => (50.0, 150.0),
            _ => (0.0, 150.0),
        };
        if !(least..=most).contains(&d) {
            return Err(OutOfRange::no_answer(
                "depth_m",
                format!("D is {d:.1} m, and this rule holds from {least:.0} to {most:.0} m"),
            ));
        }
        Ok(Metres(match self {
            Self::RootForged => 1.5 * d.sqrt() * shackle,
            Self::RootSpecial => 2.0 * d.sqrt() * shackle,
            Self::Root39 => 39.0 * d.sqrt(),
            Self::FineWeather => 3.0 * d + 90.0,
            Self::RoughWeather => 4.0 * d + 145.0,
            Self::Scope5 => 5.0 * d,
            Self::Scope6 => 6.0 * d,
            Self::Scope7 => 7.0 * d,
            Self::HighHoldingTest => 10.0 * d,
            Self::SmallCraft => 4.0 * d,
            Self::DeepWater => 3.5 * d,
        }))
    }
}

/// What of a cable can be veered, and what is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aboard {
    /// Whole length of the cable on this side.
    pub total: Metres,
    /// Gypsy to hawse lip.
    pub deck_lead: Metres,
    /// What must stay inboard of the gypsy.
    pub kept_inboard: Metres,
}

impl Aboard {
    /// Returns the most that can lie between the hawse and the anchor.
    ///
    /// `L = N l − l_d − l_keep`.
    ///
    /// # Source
    /// Common practice, no source: what is kept is the ship's own figure, often half a shackle.
    ///
    /// # Errors
    /// [`OutOfRange`] unless all are 0 or more and something is left.
    pub fn usable(&self) -> Result<Metres, OutOfRange> {
        let total = above_zero("cable_total_m", self.total.0)?;
        let lead = at_least_zero("deck_lead_m", self.deck_lead.0)?;
        let kept = at_least_zero("kept_inboard_m", self.kept_inboard.0)?;
        let left = total - lead - kept;
        if left <= 0.0 {
            return Err(OutOfRange::outside(
                "kept_inboard_m",
                kept,
                format!("less than {}, or no cable is left to veer", total - lead),
            ));
        }
        Ok(Metres(left))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(rule: CableRule, depth: f64, metres: f64) {
        let got = rule.length(Metres(depth), Metres(27.5)).unwrap().0;
        assert!((got - metres).abs() <= 0.06, "{rule:?} at {depth}: {got}");
    }

    #[test]
    fn rules_agree_with_the_worked_examples() {
        use CableRule::{FineWeather, Root39, RootForged, RootSpecial, RoughWeather, Scope6};
        // 1.5 √16 = 6 and 2 √25 = 10 shackles; 39 √25 = 195 m; 3·20 + 90; 4·20 + 145: the
        // rules by hand; seen worked in "How many shackles", publisher and year not kept, read in excerpt.
        check(RootForged, 16.0, 6.0 * 27.5);
        check(RootSpecial, 25.0, 10.0 * 27.5);
        check(Root39, 25.0, 195.0);
        check(FineWeather, 20.0, 150.0);
        check(RoughWeather, 20.0, 225.0);
        // The formulas by hand, shackles of 27.5 m.
        for (depth, root, root39, fine, rough) in [
            (10.0, 130.4, 123.3, 120.0, 185.0),
            (20.0, 184.5, 174.4, 150.0, 225.0),
            (30.0, 225.9, 213.6, 180.0, 265.0),
            (50.0, 291.7, 275.8, 240.0, 345.0),
        ] {
            check(RootForged, depth, root);
            check(Root39, depth, root39);
            check(FineWeather, depth, fine);
            check(RoughWeather, depth, rough);
        }
        check(Scope6, 20.0, 120.0);
    }

    #[test]
    fn six_shackles_with_15_metres_kept_give_scope_six_to_25_metres() {
        for (shackles, deepest) in [(6.0, 25.0), (7.0, 29.58)] {
            let usable = Aboard {
                total: Metres(shackles * 27.5),
                deck_lead: Metres(0.0),
                kept_inboard: Metres(15.0),
            }
            .usable()
            .unwrap();
            assert!((usable.0 / 6.0 - deepest).abs() < 0.01, "{usable}");
        }
    }

    #[test]
    fn a_depth_outside_a_rule_is_refused_in_words() {
        let error = CableRule::Scope6.length(Metres(40.0), Metres(27.5));
        assert_eq!(
            error.unwrap_err().to_string(),
            "depth_m: D is 40.0 m, and this rule holds from 0 to 37 m"
        );
        for bad in [f64::NAN, -1.0] {
            for rule in CableRule::ALL {
                assert!(rule.length(Metres(bad), Metres(27.5)).is_err(), "{rule:?}");
            }
        }
        assert!(
            CableRule::DeepWater
                .length(Metres(20.0), Metres(27.5))
                .is_err()
        );
    }

    #[test]
    fn cable_that_is_all_kept_inboard_is_refused() {
        let aboard = Aboard {
            total: Metres(27.5),
            deck_lead: Metres(5.0),
            kept_inboard: Metres(25.0),
        };
        assert_eq!(aboard.usable().unwrap_err().field(), "kept_inboard_m");
    }
}
