//! Quantities that cannot be mixed up, each a number with its unit as its type.

use serde::{Deserialize, Serialize};

/// Standard acceleration of gravity, m/s², by definition (CGPM 1901).
pub const STANDARD_GRAVITY: f64 = 9.806_65;
/// Metres in one international nautical mile, by definition (1929).
pub const METRES_PER_NAUTICAL_MILE: f64 = 1852.0;
/// Metres in one cable, a tenth of a nautical mile.
pub const METRES_PER_CABLE: f64 = 185.2;
/// Metres in one fathom of six international feet.
pub const METRES_PER_FATHOM: f64 = 1.8288;

macro_rules! quantity {
    ($($(#[$doc:meta])* $name:ident, $unit:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The unit as it is written behind the number.
            pub const UNIT: &'static str = $unit;
        }

        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }

        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }

        impl std::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }

        impl std::ops::Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }

        /// The bare ratio of two like quantities.
        impl std::ops::Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                self.0.fmt(f)?;
                f.write_str(concat!(" ", $unit))
            }
        }
    )*};
}

quantity! {
    /// A length or depth in metres.
    Metres, "m";
    /// A length in millimetres: chain diameters and wear.
    Millimetres, "mm";
    /// A count of lengths of cable; how long each is belongs to the ship's chain.
    Shackles, "shackles";
    /// An area in square metres.
    SquareMetres, "m²";
    /// A volume in cubic metres.
    CubicMetres, "m³";
    /// A flow of air or water in cubic metres per hour.
    CubicMetresPerHour, "m³/h";
    /// A flow of water in litres per minute.
    LitresPerMinute, "l/min";
    /// A mass in kilograms.
    Kilograms, "kg";
    /// A mass per length in kilograms per metre.
    KilogramsPerMetre, "kg/m";
    /// A density in kilograms per cubic metre.
    KilogramsPerCubicMetre, "kg/m³";
    /// A force in newtons.
    Newtons, "N";
    /// A force in kilonewtons.
    Kilonewtons, "kN";
    /// A weight per length in newtons per metre.
    NewtonsPerMetre, "N/m";
    /// A gauge pressure in pascals.
    Pascals, "Pa";
    /// A gauge pressure in bar.
    Bar, "bar";
    /// A speed in knots.
    Knots, "kn";
    /// A speed in metres per second.
    MetresPerSecond, "m/s";
    /// A speed in metres per minute: chain over the gypsy.
    MetresPerMinute, "m/min";
    /// A direction in degrees from true north, clockwise.
    DegreesTrue, "°T";
    /// An angle in degrees.
    Degrees, "°";
    /// A duration in minutes.
    Minutes, "min";
    /// A power in watts.
    Watts, "W";
}

macro_rules! converts {
    ($($from:ident * $factor:expr => $to:ident;)*) => {$(
        impl From<$from> for $to {
            fn from(value: $from) -> Self {
                Self(value.0 * $factor)
            }
        }
        impl From<$to> for $from {
            fn from(value: $to) -> Self {
                Self(value.0 / $factor)
            }
        }
    )*};
}

converts! {
    Kilonewtons * 1000.0 => Newtons;
    Bar * 1e5 => Pascals;
    Knots * (METRES_PER_NAUTICAL_MILE / 3600.0) => MetresPerSecond;
    MetresPerSecond * 60.0 => MetresPerMinute;
    Metres * 1000.0 => Millimetres;
}

/// Brings an angle into 0° up to, but not including, 360°.
pub fn normal_degrees(angle_deg: f64) -> f64 {
    let turned = angle_deg.rem_euclid(360.0);
    // A tiny negative angle rounds up to a whole turn.
    if turned >= 360.0 { 0.0 } else { turned }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_knot_is_one_nautical_mile_an_hour() {
        let speed = MetresPerSecond::from(Knots(1.0));
        assert!((speed.0 - 0.514_444_444_444).abs() < 1e-12, "{speed}");
        assert!((Knots::from(speed).0 - 1.0).abs() < 1e-15);
    }

    #[test]
    fn a_quantity_shows_its_unit_after_the_rounded_number() {
        assert_eq!(format!("{:.1}", Metres(27.449)), "27.4 m");
        assert_eq!(format!("{:.0}", Kilonewtons(12.6)), "13 kN");
    }

    #[test]
    fn every_angle_comes_into_one_turn() {
        for (angle, expected) in [(-90.0, 270.0), (360.0, 0.0), (725.5, 5.5), (-1e-18, 0.0)] {
            let got = normal_degrees(angle);
            assert!((got - expected).abs() < 1e-12, "{angle}: {got}");
        }
    }
}
