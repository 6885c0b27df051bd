//! The constituents: their arguments and node factors.

use super::Factor;
use super::astronomy::Sky;
use crate::units::normal_degrees;

macro_rules! constituents {
    ($($name:ident $text:literal;)*) => {
        /// A harmonic constituent of the tide, by its usual name.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        #[expect(missing_docs, reason = "the names are the constituents' own")]
        pub enum Constituent {
            $($name,)*
        }

        impl Constituent {
            /// The usual name.
            pub const fn name(self) -> &'static str {
                match self {
                    $(Self::$name => $text,)*
                }
            }

            /// Finds a constituent by its usual name.
            pub fn from_name(name: &str) -> Option<Self> {
                match name {
                    $($text => Some(Self::$name),)*
                    _ => None,
                }
            }
        }
    };
}

constituents! {
    M2 "M2";
    S2 "S2";
    N2 "N2";
    K1 "K1";
    M4 "M4";
    O1 "O1";
    M6 "M6";
    Mn4 "MN4";
    Nu2 "NU2";
    TwoN2 "2N2";
    J1 "J1";
    Q1 "Q1";
    P1 "P1";
    K2 "K2";
    Ms4 "MS4";
}

impl Constituent {
    /// Multiples of (T + h − s), s, h, p and 90° in the argument V: Schureman, table 2.
    const fn doodson(self) -> [f64; 5] {
        match self {
            Self::M2 => [2.0, 0.0, 0.0, 0.0, 0.0],
            Self::S2 => [2.0, 2.0, -2.0, 0.0, 0.0],
            Self::N2 => [2.0, -1.0, 0.0, 1.0, 0.0],
            Self::K1 => [1.0, 1.0, 0.0, 0.0, -1.0],
            Self::M4 => [4.0, 0.0, 0.0, 0.0, 0.0],
            Self::O1 => [1.0, -1.0, 0.0, 0.0, 1.0],
            Self::M6 => [6.0, 0.0, 0.0, 0.0, 0.0],
            Self::Mn4 => [4.0, -1.0, 0.0, 1.0, 0.0],
            Self::Nu2 => [2.0, -1.0, 2.0, -1.0, 0.0],
            Self::TwoN2 => [2.0, -2.0, 0.0, 2.0, 0.0],
            Self::J1 => [1.0, 2.0, 0.0, -1.0, -1.0],
            Self::Q1 => [1.0, -2.0, 0.0, 1.0, 1.0],
            Self::P1 => [1.0, 1.0, -2.0, 0.0, 1.0],
            Self::K2 => [2.0, 2.0, 0.0, 0.0, 0.0],
            Self::Ms4 => [4.0, 2.0, -2.0, 0.0, 0.0],
        }
    }

    /// The node factor f and the node correction u in degrees.
    fn node(self, sky: &Sky) -> (f64, f64) {
        let (f, u) = match self {
            Self::S2 | Self::P1 => (1.0, 0.0),
            Self::K1 => (f_k1(sky), -sky.nu_prime_deg()),
            Self::K2 => (f_k2(sky), -sky.two_nu_second_deg()),
            Self::J1 => (f_j1(sky), -sky.nu_deg),
            Self::O1 | Self::Q1 => (f_o1(sky), 2.0 * sky.xi_deg - sky.nu_deg),
            Self::M2 | Self::N2 | Self::Nu2 | Self::TwoN2 | Self::Ms4 => m2(sky, 1),
            Self::M4 | Self::Mn4 => m2(sky, 2),
            Self::M6 => m2(sky, 3),
        };
        (f, u)
    }

    pub(super) fn factor(self, sky: &Sky) -> Factor {
        let [hour, s, h, p, quarter] = self.doodson();
        let v = hour * (sky.hour_deg + sky.h_deg - sky.s_deg)
            + s * sky.s_deg
            + h * sky.h_deg
            + p * sky.p_deg
            + quarter * 90.0;
        let (f, u) = self.node(sky);
        Factor {
            constituent: self,
            f,
            v_plus_u_deg: normal_degrees(v + u),
        }
    }
}

/// Node factor and correction of M2 (Schureman eq. 78, 70), to the power of a compound.
fn m2(sky: &Sky, power: i32) -> (f64, f64) {
    let mean = ((0.5 * sky.omega).cos() * (0.5 * sky.i).cos()).powi(4);
    let f = (0.5 * sky.inclination).cos().powi(4) / mean;
    let u = 2.0 * sky.xi_deg - 2.0 * sky.nu_deg;
    (f.powi(power), f64::from(power) * u)
}

/// Schureman eq. 75, 67.
fn f_o1(sky: &Sky) -> f64 {
    let mean = sky.omega.sin() * (0.5 * sky.omega).cos().powi(2) * (0.5 * sky.i).cos().powi(4);
    sky.inclination.sin() * (0.5 * sky.inclination).cos().powi(2) / mean
}

/// Schureman eq. 76, 68.
fn f_j1(sky: &Sky) -> f64 {
    let mean = (2.0 * sky.omega).sin() * (1.0 - 1.5 * sky.i.sin().powi(2));
    (2.0 * sky.inclination).sin() / mean
}

/// Schureman eq. 227, 226, 68.
fn f_k1(sky: &Sky) -> f64 {
    let double = (2.0 * sky.inclination).sin();
    let mean = 0.5023 * (2.0 * sky.omega).sin() * (1.0 - 1.5 * sky.i.sin().powi(2)) + 0.1681;
    let nu = sky.nu_deg.to_radians();
    (0.2523 * double * double + 0.1689 * double * nu.cos() + 0.0283).sqrt() / mean
}

/// Schureman eq. 235, 234, 71.
fn f_k2(sky: &Sky) -> f64 {
    let square = sky.inclination.sin().powi(2);
    let mean = 0.5023 * sky.omega.sin().powi(2) * (1.0 - 1.5 * sky.i.sin().powi(2)) + 0.0365;
    let nu = sky.nu_deg.to_radians();
    (0.2533 * square * square + 0.0367 * square * (2.0 * nu).cos() + 0.0013).sqrt() / mean
}
