//! The Sun's apparent place and its height, in degrees inside.

use crate::position::Position;

/// Terrestrial less universal time, seconds, held at its value about 2026.
/// Source: extrapolated from published tables, from memory, not opened; a second of it moves no event by a second.
const DELTA_T_S: f64 = 69.2;

fn sin_deg(angle: f64) -> f64 {
    angle.to_radians().sin()
}

fn cos_deg(angle: f64) -> f64 {
    angle.to_radians().cos()
}

/// Returns the true height of the Sun's centre at a Julian date in universal time.
pub(super) fn altitude_deg(place: Position, jd_ut: f64) -> f64 {
    let t = (jd_ut + DELTA_T_S / 86_400.0 - 2_451_545.0) / 36_525.0;
    let node = 125.044_52 - 1_934.136_261 * t;
    let mean_sun = 280.466_46 + 36_000.769_83 * t + 0.000_303_2 * t * t;
    let mean_moon = 218.3165 + 481_267.881_3 * t;
    // Nutation, Meeus ch. 22, to about 0.5″.
    let nutation =
        (-17.20 * sin_deg(node) - 1.32 * sin_deg(2.0 * mean_sun) - 0.23 * sin_deg(2.0 * mean_moon)
            + 0.21 * sin_deg(2.0 * node))
            / 3600.0;
    let obliquity = 23.439_291_1 - 0.013_004_2 * t
        + (9.20 * cos_deg(node) + 0.57 * cos_deg(2.0 * mean_sun)) / 3600.0;
    let longitude = apparent_longitude(t, mean_sun, nutation);
    let right_ascension = (cos_deg(obliquity) * sin_deg(longitude))
        .atan2(cos_deg(longitude))
        .to_degrees();
    let declination = (sin_deg(obliquity) * sin_deg(longitude)).asin();
    // Meeus eq. 12.4, in universal time.
    let days = jd_ut - 2_451_545.0;
    let sidereal = 280.460_618_37 + 360.985_647_366_29 * days + nutation * cos_deg(obliquity);
    let hour_angle = (sidereal + place.longitude_deg - right_ascension).to_radians();
    let latitude = place.latitude_deg.to_radians();
    let height = (latitude.sin() * declination.sin()
        + latitude.cos() * declination.cos() * hour_angle.cos())
    .asin()
    .to_degrees();
    // The place is on the Earth's surface, not at its centre: 8.8″ at the horizon.
    height - 8.794 / 3600.0 * cos_deg(height)
}

/// Apparent longitude of the Sun, degrees: Meeus ch. 25, with the pulls of Venus, Jupiter and the
/// Moon from his *Astronomical Formulae for Calculators*, ch. 18, from memory.
fn apparent_longitude(t: f64, mean_sun: f64, nutation: f64) -> f64 {
    let anomaly = 357.529_11 + 35_999.050_29 * t - 0.000_153_7 * t * t;
    let centre = (1.914_602 - 0.004_817 * t - 0.000_014 * t * t) * sin_deg(anomaly)
        + (0.019_993 - 0.000_101 * t) * sin_deg(2.0 * anomaly)
        + 0.000_289 * sin_deg(3.0 * anomaly);
    // Centuries from 1900 January 0.5, on which these terms are counted.
    let c = t + 1.0;
    let planets = 0.001_34 * cos_deg(153.23 + 22_518.754_1 * c)
        + 0.001_54 * cos_deg(216.57 + 45_037.508_2 * c)
        + 0.002_00 * cos_deg(312.69 + 32_964.357_7 * c)
        + 0.001_79 * sin_deg(350.74 + 445_267.114_2 * c - 0.001_44 * c * c)
        + 0.001_78 * sin_deg(231.19 + 20.20 * c);
    let aberration = -0.005_69;
    mean_sun + centre + planets + aberration + nutation
}
