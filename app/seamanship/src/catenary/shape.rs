//! The curve itself, for drawing it to scale.

use serde::{Deserialize, Serialize};

use super::{Hang, Status, hang};
use crate::error::OutOfRange;
use crate::units::{Metres, Newtons};

/// A point of the chain: along the bottom from the anchor, and above the bottom.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// Level distance from the anchor.
    pub along_m: f64,
    /// Height above the seabed.
    pub up_m: f64,
}

/// Returns the curve of an inelastic chain from the anchor to the hawse, for drawing.
///
/// The part on the bottom is one straight piece; the suspended part has `pieces` equal arcs.
///
/// # Source
/// Routh's catenary: at an arc `σ` from where it is level, `y = √(a² + σ²) − a`,
/// `x = a·asinh(σ/a)`.
///
/// # Errors
/// [`OutOfRange`] as [`hang`], and if the chain does not reach the bottom.
pub fn shape(chain: &Hang, pull: Newtons, pieces: usize) -> Result<Vec<Point>, OutOfRange> {
    let rigid = Hang {
        stiffness: None,
        ..*chain
    };
    let hung = hang(&rigid, pull)?;
    if hung.status == Status::TooShort {
        return Err(OutOfRange::outside(
            "chain_length_m",
            chain.length.0,
            format!("at least {}", chain.height),
        ));
    }
    let mut points = vec![Point {
        along_m: 0.0,
        up_m: 0.0,
    }];
    let grounded = hung.grounded;
    if grounded > Metres(0.0) {
        points.push(Point {
            along_m: grounded.0,
            up_m: 0.0,
        });
    }
    let a = pull.0 / chain.weight.0;
    // Arc from the level point of the full curve up to the anchor; 0 when part is grounded.
    let below = hung.vertical_at_anchor.0 / chain.weight.0;
    let (x0, y0) = on_curve(a, below);
    for piece in 1..=pieces.max(1) {
        let arc = hung.suspended.0 * piece as f64 / pieces.max(1) as f64;
        let (x, y) = on_curve(a, below + arc);
        points.push(Point {
            along_m: grounded.0 + x - x0,
            up_m: y - y0,
        });
    }
    Ok(points)
}

fn on_curve(a: f64, arc: f64) -> (f64, f64) {
    if a == 0.0 {
        return (0.0, arc);
    }
    // √(a² + σ²) − a without the difference of two nearly equal numbers.
    (a * (arc / a).asinh(), arc * (arc / (a.hypot(arc) + a)))
}
