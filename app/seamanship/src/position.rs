//! Places on the WGS 84 ellipsoid: distances, bearings, the anchor's position, the watch circle.

use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};
use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, at_least_zero, finite, within};
use crate::units::{DegreesTrue, Metres, normal_degrees};

/// What distances and bearings come from, as shown beside them.
pub const SOURCE: &str = "Geodesic on WGS 84 (Karney, Algorithms for geodesics, J. Geodesy 87, \
    2013)";

/// What a person must know before relying on a position.
pub const CAUTION: &str = "As good as the fix: add its error. A phone's position at the bow is \
    not the anchor alarm.";

/// A place on WGS 84 in degrees, north and east positive.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Position {
    /// Latitude, −90 to 90.
    pub latitude_deg: f64,
    /// Longitude, −180 to 180.
    pub longitude_deg: f64,
}

impl Position {
    /// Makes a place out of degrees.
    ///
    /// # Errors
    /// [`OutOfRange`] outside −90 to 90 and −180 to 180.
    pub fn new(latitude_deg: f64, longitude_deg: f64) -> Result<Self, OutOfRange> {
        Ok(Self {
            latitude_deg: within("latitude_deg", latitude_deg, -90.0, 90.0)?,
            longitude_deg: within("longitude_deg", longitude_deg, -180.0, 180.0)?,
        })
    }

    fn checked(self) -> Result<Self, OutOfRange> {
        Self::new(self.latitude_deg, self.longitude_deg)
    }
}

/// The way from one place to another along the shortest line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Way {
    /// Its length.
    pub distance: Metres,
    /// The bearings; none between two like places.
    pub bearings: Option<Bearings>,
}

/// The directions of a line at its two ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bearings {
    /// At the start.
    pub start: DegreesTrue,
    /// At the end.
    pub end: DegreesTrue,
}

/// Brings a longitude into −180 up to, but not including, 180.
fn normal_longitude(longitude_deg: f64) -> f64 {
    normal_degrees(longitude_deg + 180.0) - 180.0
}

/// Returns the shortest way from one place to another.
///
/// # Source
/// C. F. F. Karney, *Algorithms for geodesics*, Journal of Geodesy 87 (2013), 43–55, as in
/// GeographicLib; WGS 84: a = 6378137 m, 1/f = 298.257223563.
///
/// # Errors
/// [`OutOfRange`] if a place is not on the Earth.
pub fn way(from: Position, to: Position) -> Result<Way, OutOfRange> {
    let (from, to) = (from.checked()?, to.checked()?);
    let (metres, start, end, _arc): (f64, f64, f64, f64) = Geodesic::wgs84().inverse(
        from.latitude_deg,
        from.longitude_deg,
        to.latitude_deg,
        to.longitude_deg,
    );
    Ok(Way {
        distance: Metres(metres),
        bearings: (metres > 0.0).then(|| Bearings {
            start: DegreesTrue(normal_degrees(start)),
            end: DegreesTrue(normal_degrees(end)),
        }),
    })
}

/// Returns the place at a bearing and distance, and the bearing there.
///
/// # Source
/// As [`way`].
///
/// # Errors
/// [`OutOfRange`] if the place is not on the Earth, the bearing is not finite or the distance is
/// negative or more than half the Earth's girth.
pub fn place_at(
    from: Position,
    bearing: DegreesTrue,
    distance: Metres,
) -> Result<(Position, DegreesTrue), OutOfRange> {
    let from = from.checked()?;
    let bearing = finite("bearing_deg", bearing.0)?;
    let distance = within("distance_m", distance.0, 0.0, 20_003_931.0)?;
    let (latitude_deg, longitude_deg, end): (f64, f64, f64) =
        Geodesic::wgs84().direct(from.latitude_deg, from.longitude_deg, bearing, distance);
    Ok((
        Position {
            latitude_deg,
            longitude_deg: normal_longitude(longitude_deg),
        },
        DegreesTrue(normal_degrees(end)),
    ))
}

/// Where the ship's antenna is, how she heads and how far forward the bow is of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fix {
    /// The antenna's place.
    pub antenna: Position,
    /// The ship's heading.
    pub heading: DegreesTrue,
    /// The hawse forward of the antenna; aft negative.
    pub bow_forward: Metres,
    /// The hawse to starboard of the antenna; port negative.
    pub bow_starboard: Metres,
}

impl Fix {
    /// Returns the place of the hawse.
    ///
    /// # Errors
    /// [`OutOfRange`] if a number is not finite, or the bow more than 500 m from the antenna.
    pub fn bow(&self) -> Result<Position, OutOfRange> {
        let forward = within(
            "bow_forward_of_antenna_m",
            self.bow_forward.0,
            -500.0,
            500.0,
        )?;
        let starboard = within(
            "bow_starboard_of_antenna_m",
            self.bow_starboard.0,
            -100.0,
            100.0,
        )?;
        let heading = finite("heading_true_deg", self.heading.0)?;
        let bearing = heading + starboard.atan2(forward).to_degrees();
        Ok(place_at(
            self.antenna,
            DegreesTrue(bearing),
            Metres(forward.hypot(starboard)),
        )?
        .0)
    }

    /// Returns the place of the anchor at the end of a chain that leads away from the bow.
    ///
    /// # Errors
    /// [`OutOfRange`] as [`bow`](Self::bow), and unless the reach is 0 or more.
    pub fn anchor(&self, lead: DegreesTrue, reach: Metres) -> Result<Position, OutOfRange> {
        at_least_zero("chain_horizontal_m", reach.0)?;
        Ok(place_at(self.bow()?, lead, reach)?.0)
    }
}

/// The circles that a ship at anchor must stay in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WatchCircle {
    /// The antenna may be this far from the anchor.
    pub antenna_radius: Metres,
    /// Her stern sweeps this far from the anchor.
    pub stern_radius: Metres,
}

/// Returns the circle for the antenna and the one that the stern sweeps.
///
/// `R_a = X + l_ba + margin`, `R_s = X + l_ba + l_as`: the chain's reach, bow to antenna, antenna
/// to stern.
///
/// # Source
/// Common practice, no source; whole chain plus bow-to-antenna where the reach is not known.
///
/// # Errors
/// [`OutOfRange`] unless all are 0 or more (the bow may lie aft of the antenna).
pub fn watch_circle(
    reach: Metres,
    bow_to_antenna: Metres,
    antenna_to_stern: Metres,
    margin: Metres,
) -> Result<WatchCircle, OutOfRange> {
    let x = at_least_zero("chain_horizontal_m", reach.0)?;
    let ba = at_least_zero("bow_forward_of_antenna_m", bow_to_antenna.0)?;
    let stern = at_least_zero("antenna_to_stern_m", antenna_to_stern.0)?;
    let margin = at_least_zero("margin_m", margin.0)?;
    Ok(WatchCircle {
        antenna_radius: Metres(x + ba + margin),
        stern_radius: Metres(x + ba + stern),
    })
}

/// Returns the radius that a ship swings in, from the straight chain: the safe side.
///
/// `R = √(L² − h²) + LOA`.
///
/// # Source
/// Common practice, no source; the reach of the catenary is less.
///
/// # Errors
/// [`OutOfRange`] unless the chain reaches the bottom and the ship's length is 0 or more.
pub fn swinging_radius_straight(
    length: Metres,
    height: Metres,
    bow_to_stern: Metres,
) -> Result<Metres, OutOfRange> {
    let h = at_least_zero("depth_hawse_m", height.0)?;
    let l = finite("chain_length_m", length.0)?;
    if l < h {
        return Err(OutOfRange::outside(
            "chain_length_m",
            l,
            format!("at least the height of the hawse above the seabed, {h}"),
        ));
    }
    let ship = at_least_zero("length_overall_m", bow_to_stern.0)?;
    Ok(Metres(((l - h) * (l + h)).sqrt() + ship))
}

/// Returns the metres in a degree of latitude and of longitude, for drawing a small chart.
///
/// # Source
/// Series for WGS 84 in a US geodetic agency's "length of a degree", from memory.
///
/// # Errors
/// [`OutOfRange`] outside −90 to 90.
pub fn degree_lengths(latitude_deg: f64) -> Result<(Metres, Metres), OutOfRange> {
    let f = within("latitude_deg", latitude_deg, -90.0, 90.0)?.to_radians();
    let north =
        111_132.92 - 559.82 * (2.0 * f).cos() + 1.175 * (4.0 * f).cos() - 0.0023 * (6.0 * f).cos();
    let east = 111_412.84 * f.cos() - 93.5 * (3.0 * f).cos() + 0.118 * (5.0 * f).cos();
    Ok((Metres(north), Metres(east)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(got: f64, want: f64, tolerance: f64) {
        assert!((got - want).abs() <= tolerance, "{got}, expected {want}");
    }

    #[test]
    fn degree_lengths_agree_with_the_published_table() {
        // A table of the lengths of a degree, title and year not kept; the closed form on WGS 84 by hand gives 111 131.78 and
        // 78 846.84 m at 45°.
        for (lat, north, east) in [
            (0.0, 110_574.27, 111_319.46),
            (45.0, 111_131.74, 78_846.81),
            (60.0, 111_412.24, 55_799.98),
        ] {
            let (n, e) = degree_lengths(lat).unwrap();
            near(n.0, north, 0.1);
            near(e.0, east, 0.1);
        }
    }

    #[test]
    fn the_bow_lies_forward_and_to_starboard_of_the_antenna() {
        // Worked by hand on the local plane: dN 26.713, dE 17.732 m.
        let fix = Fix {
            antenna: Position::new(43.5, 7.0).unwrap(),
            heading: DegreesTrue(30.0),
            bow_forward: Metres(32.0),
            bow_starboard: Metres(2.0),
        };
        let bow = fix.bow().unwrap();
        near(bow.latitude_deg, 43.500_240_4, 1e-6);
        near(bow.longitude_deg, 7.000_219_2, 1e-6);
    }

    #[test]
    fn the_drag_circle_agrees_with_a_training_page() {
        // 6 shackles of 27.5 m and 100 m from antenna to bow: 265 m, 1.431 cables.
        let got = watch_circle(Metres(165.0), Metres(100.0), Metres(0.0), Metres(0.0)).unwrap();
        near(got.antenna_radius.0, 265.0, 1e-9);
        near(
            got.antenna_radius.0 / crate::units::METRES_PER_CABLE,
            1.431,
            0.001,
        );
    }

    #[test]
    fn the_straight_chain_bounds_the_swinging_circle() {
        for (l, h, loa, radius) in [(110.0, 20.0, 60.0, 168.17), (137.5, 31.0, 70.0, 203.96)] {
            let got = swinging_radius_straight(Metres(l), Metres(h), Metres(loa));
            near(got.unwrap().0, radius, 0.01);
        }
        assert!(swinging_radius_straight(Metres(10.0), Metres(20.0), Metres(60.0)).is_err());
    }

    #[test]
    fn places_off_the_earth_are_refused() {
        assert!(Position::new(90.1, 0.0).is_err());
        assert!(Position::new(f64::NAN, 0.0).is_err());
        let here = Position::new(43.0, 7.0).unwrap();
        assert!(place_at(here, DegreesTrue(0.0), Metres(-1.0)).is_err());
        assert_eq!(way(here, here).unwrap().bearings, None);
    }
}
