//! Wear of chain: mean diameter, what is left before the limit, and when to renew.

mod trend;

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, above_zero, within};
use crate::units::{Metres, Millimetres};

pub use trend::{Measured, Renewal, TrendAt, renewal, trend_at};

/// What the wear limits come from, as shown beside them.
pub const SOURCE: &str = "Renew at 12 % off the diameter (unified; older lists say 11 %), remove \
    at 15 % (survey guidance for naval ships, ch. 7 s. 12)";

/// What a person must know before relying on a measured diameter.
pub const CAUTION: &str = "Condition counts more than the average: slack studs, notches and bent \
    links are rejected above any limit. Class decides.";

/// Loss of diameter at which chain is renewed, as a part.
/// Source: IACS, unified requirements for surveys, 12 %; older class lists say 11 %; from memory, not opened.
pub const RENEW_AT: f64 = 0.12;
/// Loss of diameter at which chain is taken off whether or not there is another.
/// Source: as [`SOURCE`] says, from memory, not opened.
pub const REMOVE_AT: f64 = 0.15;

/// Two diameters of a link, at right angles where it is most worn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LinkMeasure {
    /// The one.
    pub first: Millimetres,
    /// The other.
    pub second: Millimetres,
}

/// How far a link is worn.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Worn {
    /// Mean of the two diameters.
    pub mean: Millimetres,
    /// Part of the nominal diameter that is gone; negative where the link is thicker.
    pub loss: f64,
    /// Part of the area of metal that is left.
    pub area_left: f64,
    /// What to do.
    pub verdict: WearVerdict,
}

/// What to do about a worn link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WearVerdict {
    /// Within the limit.
    Keep,
    /// At or beyond the limit.
    Renew,
    /// So far gone that it comes off at once.
    Remove,
}

/// Returns how far a link is worn against a limit of the ship's own choosing.
///
/// Mean `(d₁ + d₂)/2`, loss `1 − mean/d`, area `(mean/d)²`.
///
/// # Source
/// [`SOURCE`]; two diameters at right angles: a chain maker's page. A diameter at the limit itself
/// is kept: 88.0 mm of 100 is accepted, below it rejected.
///
/// # Errors
/// [`OutOfRange`] unless diameters are above 0, at most 1.2 times the nominal, and the limit from
/// 0.01 to 0.15.
pub fn judge(nominal: Millimetres, link: LinkMeasure, limit: f64) -> Result<Worn, OutOfRange> {
    let d = above_zero("nominal_mm", nominal.0)?;
    above_zero("first_mm", link.first.0)?;
    above_zero("second_mm", link.second.0)?;
    let first = within("first_mm", link.first.0, 0.0, 1.2 * d)?;
    let second = within("second_mm", link.second.0, 0.0, 1.2 * d)?;
    let limit = within("limit", limit, 0.01, REMOVE_AT)?;
    let mean = f64::midpoint(first, second);
    // A whisker of arithmetic must not reject a link that is at the limit.
    let least = |loss: f64| d * (1.0 - loss) - 1e-9 * d;
    let verdict = if mean < least(REMOVE_AT) {
        WearVerdict::Remove
    } else if mean < least(limit) {
        WearVerdict::Renew
    } else {
        WearVerdict::Keep
    };
    Ok(Worn {
        mean: Millimetres(mean),
        loss: 1.0 - mean / d,
        area_left: (mean / d).powi(2),
        verdict,
    })
}

/// Returns the least mean diameter that is kept.
///
/// # Source
/// Arithmetic: what the limit, whose source stands at [`RENEW_AT`] and [`REMOVE_AT`], leaves of the diameter.
///
/// # Errors
/// [`OutOfRange`] unless the nominal diameter is above 0 and the limit from 0 to 0.5.
pub fn least_diameter(nominal: Millimetres, limit: f64) -> Result<Millimetres, OutOfRange> {
    let d = above_zero("nominal_mm", nominal.0)?;
    Ok(Millimetres(d * (1.0 - within("limit", limit, 0.0, 0.5)?)))
}

/// Returns the nominal diameter of a link whose own is not known.
///
/// A sixth of the outer length, which wear hardly changes.
///
/// # Source
/// A chain maker's page: outer length 6 d, width 3.56 d, inside pitch 4 d.
///
/// # Errors
/// [`OutOfRange`] unless the length is above 0.
pub fn nominal_from_link(outer_length: Metres) -> Result<Millimetres, OutOfRange> {
    Ok(Millimetres(
        above_zero("outer_length_m", outer_length.0)? * 1000.0 / 6.0,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn link(a: f64, b: f64) -> LinkMeasure {
        LinkMeasure {
            first: Millimetres(a),
            second: Millimetres(b),
        }
    }

    #[test]
    fn least_diameters_agree_with_the_published_table() {
        // A survey table of chain at 11 and 12 %, title and year not kept; by hand, 0.89 and 0.88 of the nominal diameter.
        for (nominal, at_11, at_12) in [
            (100.0, 89.0, 88.0),
            (20.5, 18.25, 18.04),
            (24.0, 21.36, 21.12),
            (28.0, 24.92, 24.64),
            (32.0, 28.48, 28.16),
            (36.0, 32.04, 31.68),
            (40.0, 35.60, 35.20),
            (44.0, 39.16, 38.72),
        ] {
            for (limit, least) in [(0.11, at_11), (0.12, at_12)] {
                let got = least_diameter(Millimetres(nominal), limit).unwrap().0;
                assert!((got - least).abs() <= 0.0051, "{nominal} at {limit}: {got}");
            }
        }
    }

    #[test]
    fn a_link_at_the_limit_is_kept_and_below_it_renewed() {
        let judge = |d, a, b| judge(Millimetres(d), link(a, b), RENEW_AT).unwrap();
        assert_eq!(judge(100.0, 88.0, 88.0).verdict, WearVerdict::Keep);
        assert_eq!(judge(100.0, 87.9, 88.0).verdict, WearVerdict::Renew);
        let worn = judge(28.0, 24.9, 24.3);
        assert_eq!(worn.verdict, WearVerdict::Renew);
        assert!((worn.mean.0 - 24.6).abs() < 1e-12);
        assert!((worn.loss - 0.1214).abs() < 1e-4);
        assert_eq!(judge(100.0, 84.0, 84.0).verdict, WearVerdict::Remove);
        assert!((judge(100.0, 88.0, 88.0).area_left - 0.7744).abs() < 1e-12);
    }

    #[test]
    fn a_sixth_of_the_link_is_its_bar() {
        assert!((nominal_from_link(Metres(0.168)).unwrap().0 - 28.0).abs() < 1e-12);
        assert!(nominal_from_link(Metres(-0.1)).is_err());
        assert!(super::judge(Millimetres(28.0), link(f64::NAN, 24.0), RENEW_AT).is_err());
    }
}
