//! The centre of a swing and how fast it moves, by least squares.

use super::super::plane::Spot;
use super::super::slots::Minute;
use super::lead;

/// What is asked for: the centre (east, north), its velocity (east, north), the distance that the cable holds her at.
const UNKNOWNS: usize = 5;
type Row = [f64; UNKNOWNS];

/// How sure the distance is beforehand, of itself: between slack and taut.
/// Source: our own, by the nights that the tests simulate.
const DISTANCE_SURE: f64 = 0.15;
/// Neighbouring minutes are not independent, as she yaws and satellites wander: so many count as one.
/// Source: our own, by the nights that the tests simulate.
const MINUTES_AS_ONE: f64 = 5.0;
/// No fit is better than this, metres.
/// Source: our own, by the nights that the tests simulate.
const LEAST_ERROR_M: f64 = 1.5;

/// The centre's velocity, metres a minute, with its covariance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Fit {
    pub(super) velocity: Spot,
    covariance: [[f64; 2]; 2],
}

impl Fit {
    /// The standard error of the velocity along a direction, metres a minute.
    pub(super) fn uncertain(&self, along: Spot) -> f64 {
        let [[ee, en], [ne, nn]] = self.covariance;
        let (e, n) = (along.east, along.north);
        (e * e * ee + e * n * (en + ne) + n * n * nn)
            .max(0.0)
            .sqrt()
    }
}

/// Fits `p = c + v·t − ρ·u` to the minutes: the place `p` lies the distance `ρ` behind the centre `c`, against the
/// direction `u` in which the cable leads, and the centre moves with `v`.
///
/// A swing is explained by `u`, a drag is left to `v`. Where she does not swing, `ρ` and `c` cannot be told apart, and
/// need not be: the length of the cable says what `ρ` is about.
pub(super) fn fit(minutes: &[&Minute], reach_m: Option<f64>) -> Option<Fit> {
    let end_ms = minutes.last()?.end_ms;
    let has_leads = minutes.iter().all(|minute| lead(minute).is_some());
    let mut rows: Vec<(Row, f64)> = Vec::with_capacity(minutes.len() * 2);
    for minute in minutes {
        let at = minute.at?;
        let t = (minute.end_ms - end_ms) as f64 / 60_000.0;
        let u = lead(minute).filter(|_| has_leads).unwrap_or_default();
        rows.push(([1.0, 0.0, t, 0.0, -u.east], at.east));
        rows.push(([0.0, 1.0, 0.0, t, -u.north], at.north));
    }
    let expected = reach_m.map_or(60.0, |reach| 0.95 * reach);
    let sure = reach_m.map_or(60.0, |reach| (DISTANCE_SURE * reach).max(5.0));
    // The expectation is one more row, weighed against places that are good to some metres.
    let weight = 3.0 / sure;
    rows.push(([0.0, 0.0, 0.0, 0.0, weight], expected * weight));

    let mut normal = [[0.0; UNKNOWNS]; UNKNOWNS];
    let mut right = [0.0; UNKNOWNS];
    for (row, value) in &rows {
        for i in 0..UNKNOWNS {
            right[i] += row[i] * value;
            for j in 0..UNKNOWNS {
                normal[i][j] += row[i] * row[j];
            }
        }
    }
    let inverse = inverse(normal)?;
    let mut found = [0.0; UNKNOWNS];
    for i in 0..UNKNOWNS {
        found[i] = (0..UNKNOWNS).map(|j| inverse[i][j] * right[j]).sum();
    }
    let squares: f64 = rows
        .iter()
        .map(|(row, value)| {
            let fitted: f64 = (0..UNKNOWNS).map(|i| row[i] * found[i]).sum();
            (value - fitted).powi(2)
        })
        .sum();
    let free = (rows.len() as f64 - 5.0).max(1.0);
    let scale = (squares / free).max(LEAST_ERROR_M.powi(2)) * MINUTES_AS_ONE;
    Some(Fit {
        velocity: Spot {
            east: found[2],
            north: found[3],
        },
        covariance: [
            [inverse[2][2] * scale, inverse[2][3] * scale],
            [inverse[3][2] * scale, inverse[3][3] * scale],
        ],
    })
}

/// Returns the inverse of a matrix by elimination with pivots; none where it has none.
fn inverse(mut matrix: [Row; UNKNOWNS]) -> Option<[Row; UNKNOWNS]> {
    let mut inverse = [[0.0; UNKNOWNS]; UNKNOWNS];
    for (i, row) in inverse.iter_mut().enumerate() {
        row[i] = 1.0;
    }
    for column in 0..UNKNOWNS {
        let size = |row: &usize| matrix[*row][column].abs();
        let pivot = (column..UNKNOWNS).max_by(|one, other| size(one).total_cmp(&size(other)))?;
        if matrix[pivot][column].abs() < 1e-9 {
            return None;
        }
        matrix.swap(column, pivot);
        inverse.swap(column, pivot);
        let by = 1.0 / matrix[column][column];
        matrix[column] = matrix[column].map(|value| value * by);
        inverse[column] = inverse[column].map(|value| value * by);
        let (from, from_inverse) = (matrix[column], inverse[column]);
        for row in (0..UNKNOWNS).filter(|row| *row != column) {
            let by = matrix[row][column];
            for at in 0..UNKNOWNS {
                matrix[row][at] -= by * from[at];
                inverse[row][at] -= by * from_inverse[at];
            }
        }
    }
    Some(inverse)
}
