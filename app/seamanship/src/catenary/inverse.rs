//! From the distance between ship and anchor back to the force.

use super::{Hang, Hung, hang};
use crate::error::{OutOfRange, at_least_zero};
use crate::root::crossing;
use crate::units::{Metres, Newtons};

/// What a chain pulls with at a given distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Pulled {
    /// The chain hangs straight down: there is no level pull.
    Slack,
    /// The chain pulls with this level force.
    Taut {
        /// The level force.
        pull: Newtons,
        /// How the chain hangs under it.
        hung: Hung,
    },
    /// A chain that does not stretch cannot reach so far.
    Impossible,
}

/// Returns the level force in an inelastic chain whose ends are `reach` apart.
///
/// With part on the bottom, `(L − X)/h = √(1 + 2/k) − acosh(1+k)/k` is solved for `k = h/a`;
/// all lifted, `sinh(u)/u = √(L² − h²)/X` for `u = X/2a`.
///
/// # Source
/// The formulas of [`hang`] solved the other way.
///
/// # Errors
/// [`OutOfRange`] as [`hang`], for a stiffness (which is not taken here), and for a
/// height of 0, where every force gives the same distance.
pub fn force_at_distance(chain: &Hang, reach: Metres) -> Result<Pulled, OutOfRange> {
    let super::Checked { h, l, w, ea } = chain.checked()?;
    let x = at_least_zero("horizontal_distance_m", reach.0)?;
    if ea.is_some() {
        return Err(OutOfRange::no_answer(
            "EA_N",
            "the force at a distance is only solved for a chain that does not stretch",
        ));
    }
    if l < h {
        return Ok(Pulled::Impossible);
    }
    if x <= l - h {
        return Ok(Pulled::Slack);
    }
    let chord = ((l - h) * (l + h)).sqrt();
    if x >= chord {
        return Ok(Pulled::Impossible);
    }
    // A chain along the bottom (h = 0) is either slack or impossible, so h is above 0 here.
    let a_lift = (l - h) * (l + h) / (2.0 * h);
    let reach_at_lift = a_lift * (l / a_lift).asinh();
    let a = if x <= reach_at_lift {
        grounded(h, l, x, a_lift)
    } else {
        lifted(chord, x)
    };
    let pull = Newtons(a.ok_or_else(|| unsolved(x))? * w);
    let hung = hang(chain, pull)?;
    Ok(Pulled::Taut { pull, hung })
}

fn unsolved(x: f64) -> OutOfRange {
    OutOfRange::outside(
        "horizontal_distance_m",
        x,
        "far enough from the slack and the straight chain for a number to show the difference",
    )
}

/// Solves for `a` with part of the chain on the bottom, in ln k.
fn grounded(h: f64, l: f64, x: f64, a_lift: f64) -> Option<f64> {
    let slack = (l - x) / h;
    let off = |ln_k: f64| {
        let k = ln_k.exp();
        // acosh(1+k) without losing k to the 1.
        let arc = (k + (k * (2.0 + k)).sqrt()).ln_1p();
        (1.0 + 2.0 / k).sqrt() - arc / k - slack
    };
    // A little beyond lift-off on one side, a force of no account on the other.
    let k_lift = (h / a_lift).ln() - 1e-3;
    crossing(off, k_lift, 60.0).map(|ln_k| h / ln_k.exp())
}

/// Solves for `a` with all of the chain lifted, in u = X/2a.
fn lifted(chord: f64, x: f64) -> Option<f64> {
    let ratio = chord / x;
    let off = |u: f64| {
        if u < 1e-3 {
            // sinh(u)/u − 1 to the fourth order, where the difference would be lost.
            u * u / 6.0 * (1.0 + u * u / 20.0) - (ratio - 1.0)
        } else {
            u.sinh() / u - ratio
        }
    };
    crossing(off, 0.0, 700.0).map(|u| x / (2.0 * u))
}
