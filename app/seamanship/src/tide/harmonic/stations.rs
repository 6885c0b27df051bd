//! Harmonic constants of two stations: NOAA, marked public domain, epoch 1983–2001.

use super::Constituent;
use crate::units::Metres;

/// One constituent at a station.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Constant {
    /// Which constituent.
    pub constituent: Constituent,
    /// Amplitude, metres.
    pub amplitude_m: f64,
    /// Greenwich phase lag g, degrees.
    pub phase_lag_deg: f64,
}

/// A place whose harmonic constants are built in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Identity at NOAA.
    pub id: &'static str,
    /// Name.
    pub name: &'static str,
    /// Mean sea level above chart datum (mean lower low water).
    pub mean_above_datum: Metres,
    /// The constants.
    pub constants: &'static [Constant],
}

const fn c(constituent: Constituent, amplitude_m: f64, phase_lag_deg: f64) -> Constant {
    Constant {
        constituent,
        amplitude_m,
        phase_lag_deg,
    }
}

/// The stations whose constants are built in.
pub const STATIONS: &[Station] = &[
    Station {
        id: "noaa/9414290",
        name: "San Francisco (Golden Gate)",
        mean_above_datum: Metres(0.951),
        constants: &[
            c(Constituent::M2, 0.576, 208.2),
            c(Constituent::S2, 0.137, 216.2),
            c(Constituent::N2, 0.122, 183.2),
            c(Constituent::K1, 0.37, 225.4),
            c(Constituent::M4, 0.022, 136.8),
            c(Constituent::O1, 0.23, 208.4),
            c(Constituent::M6, 0.002, 7.3),
            c(Constituent::Mn4, 0.008, 112.0),
            c(Constituent::Nu2, 0.026, 189.9),
            c(Constituent::TwoN2, 0.013, 153.3),
            c(Constituent::J1, 0.019, 244.3),
            c(Constituent::Q1, 0.041, 202.4),
            c(Constituent::P1, 0.114, 222.1),
            c(Constituent::K2, 0.04, 206.0),
            c(Constituent::Ms4, 0.01, 149.0),
        ],
    },
    Station {
        id: "noaa/8443970",
        name: "Boston",
        mean_above_datum: Metres(1.586),
        constants: &[
            c(Constituent::M2, 1.371, 109.2),
            c(Constituent::S2, 0.208, 146.2),
            c(Constituent::N2, 0.305, 76.7),
            c(Constituent::K1, 0.143, 205.6),
            c(Constituent::M4, 0.023, 29.0),
            c(Constituent::O1, 0.116, 187.1),
            c(Constituent::M6, 0.029, 281.3),
            c(Constituent::Mn4, 0.011, 13.7),
            c(Constituent::Nu2, 0.066, 84.0),
            c(Constituent::TwoN2, 0.041, 53.7),
            c(Constituent::J1, 0.01, 210.0),
            c(Constituent::Q1, 0.019, 172.1),
            c(Constituent::P1, 0.047, 204.8),
            c(Constituent::K2, 0.059, 146.1),
            c(Constituent::Ms4, 0.009, 74.0),
        ],
    },
];
