//! The pressure and the hose that the rules ask for.

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, above_zero};
use crate::units::{Metres, Pascals};

/// The kind of ship that a fire-main rule speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ShipKind {
    /// A passenger ship under SOLAS.
    Passenger,
    /// A cargo ship under SOLAS.
    Cargo,
    /// A commercial yacht.
    Yacht,
    /// A fishing vessel under its own convention.
    Fishing,
}

/// A least pressure at the hydrants, with where it is said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RequiredPressure {
    /// The least pressure with the water running.
    pub least: Pascals,
    /// Where it is said, and how sure.
    pub source: &'static str,
}

/// Returns the least pressure at any hydrant while the required jets run.
///
/// # Source
/// SOLAS II-2/10.2.1.6 for the values of passenger and cargo ships, from memory; Large Commercial
/// Yacht Code LY3 15A.2.2 below 500 GT; above it yachts follow SOLAS as cargo ships.
///
/// # Errors
/// [`OutOfRange`] unless the gross tonnage is above 0.
pub fn required_pressure(
    kind: ShipKind,
    gross_tonnage: f64,
) -> Result<RequiredPressure, OutOfRange> {
    let gt = above_zero("gross_tonnage", gross_tonnage)?;
    let (megapascals, source) = match kind {
        ShipKind::Passenger if gt >= 4000.0 => (0.40, "SOLAS II-2/10.2.1.6, from memory"),
        ShipKind::Passenger => (0.30, "SOLAS II-2/10.2.1.6, from memory"),
        ShipKind::Cargo if gt >= 6000.0 => (0.27, "SOLAS II-2/10.2.1.6, from memory"),
        ShipKind::Cargo => (0.25, "SOLAS II-2/10.2.1.6, from memory"),
        ShipKind::Yacht if gt < 500.0 => (0.20, "Large Commercial Yacht Code LY3, 15A.2.2"),
        ShipKind::Yacht if gt >= 6000.0 => {
            (0.27, "SOLAS II-2/10.2.1.6 as for cargo ships, from memory")
        }
        ShipKind::Yacht => (0.25, "SOLAS II-2/10.2.1.6 as for cargo ships, from memory"),
        ShipKind::Fishing => (0.25, "fishing-vessel convention, as summarised"),
    };
    Ok(RequiredPressure {
        least: Pascals(megapascals * 1e6),
        source,
    })
}

/// Returns the longest hose allowed on the open deck.
///
/// 20 m; 25 m only on decks broader than 30 m; never less than 10 m.
///
/// # Source
/// SOLAS II-2/10.2.3, as summarised.
///
/// # Errors
/// [`OutOfRange`] unless the breadth is above 0.
pub fn hose_length_allowed(deck_breadth: Metres) -> Result<Metres, OutOfRange> {
    let breadth = above_zero("breadth_m", deck_breadth.0)?;
    Ok(Metres(if breadth > 30.0 { 25.0 } else { 20.0 }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_least_pressure_goes_by_kind_and_tonnage() {
        for (kind, gt, bar) in [
            (ShipKind::Passenger, 4000.0, 4.0),
            (ShipKind::Passenger, 3999.0, 3.0),
            (ShipKind::Cargo, 6000.0, 2.7),
            (ShipKind::Cargo, 5999.0, 2.5),
            (ShipKind::Yacht, 499.0, 2.0),
            (ShipKind::Yacht, 500.0, 2.5),
            (ShipKind::Fishing, 300.0, 2.5),
        ] {
            let got = required_pressure(kind, gt).unwrap().least.0 / 1e5;
            assert!((got - bar).abs() < 1e-9, "{kind:?} {gt}: {got}");
        }
        assert!(required_pressure(ShipKind::Cargo, f64::NAN).is_err());
        assert!(hose_length_allowed(Metres(0.0)).is_err());
    }
}
