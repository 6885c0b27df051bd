//! A fix by bearings of fixed marks, with its ellipse of error.

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, above_zero, finite};
use crate::position::Position;
use crate::watch::plane::{Plane, Spot};

/// What the fix comes from, as shown beside it.
pub const SOURCE: &str = "Least squares of bearings on a plane; the ellipse from the inverse of the \
    normal matrix (any textbook of survey adjustment)";

/// What a person must know before relying on it.
pub const CAUTION: &str = "As good as the marks' places and the bearings. Two bearings check nothing; \
    three that do not meet say that one of them, or the compass, is wrong.";

/// A bearing of a fixed mark.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Sight {
    /// Where the mark is.
    pub mark: Position,
    /// Its bearing from the ship, degrees true.
    pub bearing_deg: f64,
    /// How good the bearing is: its standard error, degrees.
    pub error_deg: f64,
}

/// Where the ship is, and how well that is known.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BearingFix {
    /// Where.
    pub place: Position,
    /// Longer half axis of the ellipse of one standard error, metres: two fixes in five lie within it.
    pub major_m: f64,
    /// Shorter half axis, metres.
    pub minor_m: f64,
    /// Where the longer axis points to, degrees true, 0 to 180.
    pub axis_deg: f64,
    /// By how much the worst bearing disagrees with the fix, degrees.
    pub worst_deg: f64,
    /// That disagreement in its own standard errors; beyond 3 something is wrong.
    pub worst_in_errors: f64,
}

/// Lines that cut at less than this give no fix.
/// Source: our own; at 10° an error of 1° in one bearing moves the fix along the other line nearly six times as far as at 90°.
const LEAST_CUT_DEG: f64 = 10.0;
/// A fix that has not settled by then does not.
const MOST_ROUNDS: usize = 30;

/// Returns where the ship is by two or more bearings.
///
/// The place at which the squares of the bearings' disagreements, each against its own error, come to the least
/// (Gauss-Newton from the crossing of the two that cut best). A bearing changes by `(cos β, −sin β)/d` a metre east and north.
///
/// # Source
/// Gauss and Newton’s method, in any textbook of survey adjustment; checked against `bearings.py` of the tests, numpy.
///
/// # Errors
/// [`OutOfRange`] for fewer than two bearings, for lines that cut at less than 10°, for marks that are not on Earth or farther
/// than 100 km, and where the lines meet behind the ship.
pub fn fix(sights: &[Sight]) -> Result<BearingFix, OutOfRange> {
    let first = sights
        .first()
        .ok_or_else(|| OutOfRange::no_answer("sights", "there are no bearings"))?;
    for sight in sights {
        Position::new(sight.mark.latitude_deg, sight.mark.longitude_deg)?;
        finite("bearing_deg", sight.bearing_deg)?;
        above_zero("error_deg", sight.error_deg)?;
    }
    let plane = Plane::at(first.mark);
    let marks: Vec<Spot> = sights.iter().map(|sight| plane.spot(sight.mark)).collect();
    if let Some(far) = marks.iter().find(|mark| mark.length() > 100_000.0) {
        return Err(OutOfRange::outside(
            "mark",
            far.length(),
            "within 100 km of the others",
        ));
    }
    let mut at = best_crossing(sights, &marks)?;
    for _ in 0..MOST_ROUNDS {
        let step = round(sights, &marks, at)?.0;
        at = at + step;
        if step.length() < 1e-6 {
            break;
        }
    }
    let (step, normal) = round(sights, &marks, at)?;
    // Beyond a wild crossing the sum may go on without end.
    if step.length() > 0.01 || at.length() > 200_000.0 {
        return Err(OutOfRange::no_answer(
            "sights",
            "the bearings do not come to one place",
        ));
    }
    let off = |(sight, mark): (&Sight, &Spot)| off_deg(sight, *mark, at);
    let pairs = || sights.iter().zip(&marks);
    if pairs().any(|pair| off(pair).abs() > 90.0) {
        return Err(OutOfRange::no_answer(
            "sights",
            "the bearings meet behind the ship",
        ));
    }
    let worst_deg = pairs().map(|pair| off(pair).abs()).fold(0.0, f64::max);
    let in_errors = pairs().map(|pair| off(pair).abs() / pair.0.error_deg);
    let worst_in_errors = in_errors.fold(0.0, f64::max);
    let ellipse = ellipse(normal);
    Ok(BearingFix {
        place: plane.place(at),
        major_m: ellipse.0,
        minor_m: ellipse.1,
        axis_deg: ellipse.2,
        worst_deg,
        worst_in_errors,
    })
}

/// By how much a bearing differs from the one that a place gives, −180 to 180°.
fn off_deg(sight: &Sight, mark: Spot, at: Spot) -> f64 {
    let difference = sight.bearing_deg - (mark - at).bearing_deg();
    (difference + 180.0).rem_euclid(360.0) - 180.0
}

/// The crossing of the two lines that cut best.
fn best_crossing(sights: &[Sight], marks: &[Spot]) -> Result<Spot, OutOfRange> {
    let mut best: Option<(f64, Spot)> = None;
    for one in 0..sights.len() {
        for other in 0..one {
            let (u, v) = (
                Spot::toward(sights[one].bearing_deg),
                Spot::toward(sights[other].bearing_deg),
            );
            let cross = u.east * v.north - u.north * v.east;
            if best.is_none_or(|(most, _)| cross.abs() > most) && cross.abs() > 1e-9 {
                // From the mark back along its bearing: m − u·t is on both lines.
                let between = marks[one] - marks[other];
                let t = (between.east * v.north - between.north * v.east) / cross;
                best = Some((cross.abs(), marks[one] - u * t));
            }
        }
    }
    best.filter(|(cut, _)| *cut >= LEAST_CUT_DEG.to_radians().sin())
        .map(|(_, at)| at)
        .ok_or_else(|| OutOfRange::no_answer("sights", "two bearings must cut at 10° or more"))
}

/// One step toward the least squares, and the normal matrix (east-east, east-north, north-north) there.
fn round(
    sights: &[Sight],
    marks: &[Spot],
    at: Spot,
) -> Result<(Spot, (f64, f64, f64)), OutOfRange> {
    let (mut ee, mut en, mut nn, mut e, mut n) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (sight, mark) in sights.iter().zip(marks) {
        let way = *mark - at;
        let d = above_zero("distance_m", way.length())?;
        let beta = way.bearing_deg().to_radians();
        // Radians a metre: going east turns a mark that lies north to the left.
        let (by_east, by_north) = (-beta.cos() / d, beta.sin() / d);
        let sigma = sight.error_deg.to_radians();
        let weight = 1.0 / (sigma * sigma);
        let off = off_deg(sight, *mark, at).to_radians();
        ee += weight * by_east * by_east;
        en += weight * by_east * by_north;
        nn += weight * by_north * by_north;
        e += weight * by_east * off;
        n += weight * by_north * off;
    }
    let determinant = ee * nn - en * en;
    if determinant <= 1e-12 * ee.max(nn).powi(2) {
        return Err(OutOfRange::no_answer("sights", "the bearings do not cut"));
    }
    let step = Spot {
        east: (nn * e - en * n) / determinant,
        north: (ee * n - en * e) / determinant,
    };
    Ok((step, (ee, en, nn)))
}

/// The half axes of the ellipse of one standard error, and where the longer points to.
fn ellipse((ee, en, nn): (f64, f64, f64)) -> (f64, f64, f64) {
    let determinant = ee * nn - en * en;
    let (cee, cen, cnn) = (nn / determinant, -en / determinant, ee / determinant);
    let middle = f64::midpoint(cee, cnn);
    let half = ((cee - cnn) / 2.0).hypot(cen);
    let axis = 0.5 * (2.0 * cen).atan2(cnn - cee);
    (
        (middle + half).sqrt(),
        (middle - half).max(0.0).sqrt(),
        axis.to_degrees().rem_euclid(180.0),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::Value;

    #[test]
    fn fixes_agree_with_least_squares_of_another_program() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/golden/bearings.json");
        let text = std::fs::read_to_string(path).expect("the cases are there");
        let cases: Value = serde_json::from_str(&text).expect("JSON");
        let cases = cases["cases"].as_array().expect("cases");
        assert!(cases.len() > 20);
        for case in cases {
            let sights: Vec<Sight> =
                serde_json::from_value(case["sights"].clone()).expect("sights");
            let got = fix(&sights).expect("a fix");
            let near = |name: &str, got: f64, tolerance: f64| {
                let want = case[name].as_f64().expect("a number");
                assert!(
                    (got - want).abs() <= tolerance,
                    "{name}: {got}, expected {want} in {case}"
                );
            };
            near("latitude_deg", got.place.latitude_deg, 1e-7);
            near("longitude_deg", got.place.longitude_deg, 1e-7);
            near("major_m", got.major_m, 1e-3 * got.major_m);
            near("minor_m", got.minor_m, 1e-3 * got.minor_m);
            near("worst_deg", got.worst_deg, 1e-4);
            // Where it points is told from where it does not only in an ellipse that is none.
            if got.major_m > 1.1 * got.minor_m {
                let want = case["axis_deg"].as_f64().expect("a number");
                let off = (got.axis_deg - want + 90.0).rem_euclid(180.0) - 90.0;
                assert!(off.abs() < 0.1, "axis {}, expected {want}", got.axis_deg);
            }
        }
    }

    #[test]
    fn what_gives_no_fix_is_refused() {
        let sight = |north, east, bearing_deg| Sight {
            mark: Position {
                latitude_deg: 43.5 + north,
                longitude_deg: 7.0 + east,
            },
            bearing_deg,
            error_deg: 1.0,
        };
        assert!(fix(&[]).is_err());
        assert!(fix(&[sight(0.0, 0.0, 10.0)]).is_err());
        assert!(fix(&[sight(0.0, 0.0, 10.0), sight(0.01, 0.0, 15.0)]).is_err());
        assert!(fix(&[sight(0.0, 0.0, 10.0), sight(0.0, 0.01, 190.0)]).is_err());
        assert!(fix(&[sight(0.0, 0.0, f64::NAN), sight(0.0, 0.01, 90.0)]).is_err());
        let flat = Sight {
            error_deg: 0.0,
            ..sight(0.0, 0.01, 90.0)
        };
        assert!(fix(&[sight(0.0, 0.0, 0.0), flat]).is_err());
        // Marks to the north and the east cannot bear south and west.
        assert!(
            fix(&[
                sight(0.02, 0.0, 180.0),
                sight(0.0, 0.02, 270.0),
                sight(0.02, 0.02, 225.0)
            ])
            .is_err()
        );
    }
}
