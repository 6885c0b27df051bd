//! What an anchor and the chain on the bottom hold, as a band: real seabeds scatter.

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, above_zero, at_least_zero, within};
use crate::units::{Degrees, Kilograms, Metres, Newtons, NewtonsPerMetre, STANDARD_GRAVITY};

/// What the holding comes from, as shown beside it.
pub const SOURCE: &str = "Coefficients of Japan P&I Club's bulletin on dragging, from memory, and a ship's worksheet, and \
    the power law of UFC 4-159-03 with NCEL constants, from memory; the band spans them";

/// What a person must know before relying on a holding figure.
pub const CAUTION: &str = "One anchor held 2300, 1200 and 680 kg at three places of a test \
    read in excerpt, its title not kept. Set it with the engines, watch it, and plan with the lower figure.";

/// What kind of anchor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum AnchorType {
    /// An ordinary stockless anchor.
    #[default]
    Stockless,
    /// High holding power: at least twice the ordinary of the same mass.
    HighHolding,
    /// Super high holding power: at least four times the ordinary of the same mass.
    SuperHighHolding,
}

/// What the bottom is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ground {
    /// Sand.
    #[default]
    Sand,
    /// Mud.
    Mud,
    /// Clay.
    Clay,
    /// Shingle, gravel or coral rubble.
    Shingle,
    /// Weed or seagrass over sand.
    Weed,
    /// Rock: a hook, not holding.
    Rock,
}

/// A lower and an upper figure.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// At least.
    pub low: Newtons,
    /// At most.
    pub high: Newtons,
}

impl AnchorType {
    /// How many times an ordinary anchor of the same mass it holds at least.
    const fn times_ordinary(self) -> f64 {
        match self {
            Self::Stockless => 1.0,
            Self::HighHolding => 2.0,
            Self::SuperHighHolding => 4.0,
        }
    }

    /// The club's holding over the anchor's weight in air, in sand and in mud.
    const fn club_coefficient(self, in_mud: bool) -> f64 {
        match (self, in_mud) {
            (Self::Stockless, false) => 3.5,
            (Self::Stockless, true) => 3.2,
            (Self::HighHolding, false) => 7.0,
            (Self::HighHolding, true) => 10.0,
            (Self::SuperHighHolding, false) => 14.0,
            (Self::SuperHighHolding, true) => 12.8,
        }
    }
}

/// Returns the holding of a movable-fluke stockless anchor by the Navy's power law.
///
/// `H = H_R (m/4536)^b`: 196 kN, 0.80 in sand; 107 kN, 0.92 in mud. It grows less than the mass.
///
/// # Source
/// UFC 4-159-03, eq. 26; constants of NCEL TDS 83-08R, from memory.
///
/// # Errors
/// [`OutOfRange`] unless the mass is from 30 kg to 30 t.
pub fn navy_stockless(mass: Kilograms, in_mud: bool) -> Result<Newtons, OutOfRange> {
    let m = within("anchor_mass_kg", mass.0, 30.0, 30_000.0)?;
    let (kn, power) = if in_mud { (107.0, 0.92) } else { (196.0, 0.80) };
    Ok(Newtons(1000.0 * kn * (m / 4536.0).powf(power)))
}

/// Returns what an anchor holds, dug in, with the shank level.
///
/// The band spans the club's coefficient times the weight in air and the Navy's power law times
/// 2 or 4 for high and super-high holding anchors. Shingle and weed: half. Rock: 0 to 1.5 times
/// the weight.
///
/// # Source
/// Club coefficients 3.5 and 3.2 (stockless), 7 and 10 (high holding) in sand and mud from
/// memory, the last confirmed by "Critical wind velocity for dragging anchor", a worksheet of one ship, publisher and
/// year not known, read in excerpt; super-high as 4 times the stockless;
/// halving and rock: common practice, no source; clay as sand.
///
/// # Errors
/// [`OutOfRange`] unless the mass is from 30 kg to 30 t.
pub fn anchor(kind: AnchorType, mass: Kilograms, ground: Ground) -> Result<Band, OutOfRange> {
    let in_mud = ground == Ground::Mud;
    let navy = navy_stockless(mass, in_mud)?.0 * kind.times_ordinary();
    let weight = mass.0 * STANDARD_GRAVITY;
    let club = kind.club_coefficient(in_mud) * weight;
    let (low, high) = (club.min(navy), club.max(navy));
    let (low, high) = match ground {
        Ground::Sand | Ground::Mud | Ground::Clay => (low, high),
        Ground::Shingle | Ground::Weed => (low / 2.0, high / 2.0),
        Ground::Rock => (0.0, 1.5 * weight),
    };
    Ok(Band {
        low: Newtons(low),
        high: Newtons(high),
    })
}

/// Returns the friction of the chain that lies on the bottom.
///
/// `λ w l`, `λ` 0.75, in mud 1.0.
///
/// # Source
/// 0.75: Japan P&I Club's bulletin on dragging, from memory, not opened. 1.0 in mud: "Critical wind velocity for dragging
/// anchor", a worksheet of one ship, publisher and year not known, read in excerpt.
///
/// # Errors
/// [`OutOfRange`] unless the length is 0 or more and the weight above 0.
pub fn chain_friction(
    on_bottom: Metres,
    weight: NewtonsPerMetre,
    ground: Ground,
) -> Result<Newtons, OutOfRange> {
    let l = at_least_zero("grounded_m", on_bottom.0)?;
    let w = above_zero("w_N_per_m", weight.0)?;
    let lambda = match ground {
        Ground::Mud => 1.0,
        Ground::Rock => 0.0,
        _ => 0.75,
    };
    Ok(Newtons(lambda * w * l))
}

/// Returns what part of its holding an anchor keeps when its shank is pulled upwards.
///
/// 25 % lost at 5°, 50 % at 15°, straight lines between.
///
/// # Source
/// Seamanship textbooks, Admiralty Manual, from memory.
///
/// # Errors
/// [`OutOfRange`] outside 0 to 15°: beyond, count on nothing.
pub fn part_kept(uplift: Degrees) -> Result<f64, OutOfRange> {
    let angle = within("angle_anchor_deg", uplift.0, 0.0, 15.0)?;
    Ok(if angle <= 5.0 {
        1.0 - 0.05 * angle
    } else {
        0.75 - 0.025 * (angle - 5.0)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got}, expected {want}");
    }

    #[test]
    fn the_navy_law_gives_its_reference_anchor_and_a_small_one() {
        near(
            navy_stockless(Kilograms(4536.0), false).unwrap().0,
            196e3,
            1.0,
        );
        near(
            navy_stockless(Kilograms(4536.0), true).unwrap().0,
            107e3,
            1.0,
        );
        near(
            navy_stockless(Kilograms(1020.0), false).unwrap().0,
            59.4e3,
            600.0,
        );
        near(
            navy_stockless(Kilograms(1020.0), true).unwrap().0,
            27.1e3,
            300.0,
        );
    }

    #[test]
    fn a_high_holding_anchor_in_mud_agrees_with_the_shared_worksheet() {
        // "Critical wind velocity for dragging anchor", as above: 13.35 t at 10, and 39.69 m of 0.233 t/m at 1.0: 133.5 + 9.25 = 142.7 t.
        let band = anchor(AnchorType::HighHolding, Kilograms(13_350.0), Ground::Mud).unwrap();
        near(band.high.0 / STANDARD_GRAVITY / 1000.0, 133.5, 0.01);
        let chain = chain_friction(
            Metres(39.69),
            NewtonsPerMetre(233.0 * STANDARD_GRAVITY),
            Ground::Mud,
        )
        .unwrap();
        let both = (band.high + chain).0 / STANDARD_GRAVITY / 1000.0;
        near(both, 142.7, 0.1);
        near(both - 38.3, 104.4, 0.1);
    }

    #[test]
    fn better_anchors_hold_more_and_poor_ground_less() {
        let low = |kind, ground| anchor(kind, Kilograms(600.0), ground).unwrap().low;
        let (ordinary, high) = (AnchorType::Stockless, AnchorType::HighHolding);
        assert!(low(ordinary, Ground::Sand) < low(high, Ground::Sand));
        assert!(low(high, Ground::Sand) < low(AnchorType::SuperHighHolding, Ground::Sand));
        assert!(low(high, Ground::Weed) < low(high, Ground::Sand));
        assert_eq!(low(high, Ground::Rock), Newtons(0.0));
    }

    #[test]
    fn a_lifted_shank_loses_holding_until_nothing_is_counted() {
        near(part_kept(Degrees(0.0)).unwrap(), 1.0, 0.0);
        near(part_kept(Degrees(5.0)).unwrap(), 0.75, 1e-12);
        near(part_kept(Degrees(15.0)).unwrap(), 0.5, 1e-12);
        assert!(part_kept(Degrees(15.1)).is_err());
        assert!(anchor(AnchorType::Stockless, Kilograms(f64::NAN), Ground::Sand).is_err());
    }
}
