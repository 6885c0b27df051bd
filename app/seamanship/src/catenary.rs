//! The curve of a hanging chain: what it carries, how far it reaches, when the anchor lifts.
//!
//! Routh's catenary with parameter `a = H/w`: `s² = h² + 2ha` from the touch-down point up to a
//! height `h`. The chain is even, the seabed level and without friction, nothing moves.

mod elastic;
mod inverse;
mod shape;

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, above_zero, at_least_zero};
use crate::units::{Degrees, Metres, Newtons, NewtonsPerMetre};

pub use inverse::{Pulled, force_at_distance};
pub use shape::{Point, shape};

/// What the catenary comes from, as shown beside its results.
pub const SOURCE: &str = "Routh, Analytical Statics vol. 1: catenary of an even chain on a level \
    seabed";

/// What a person must know before relying on the catenary.
pub const CAUTION: &str = "A still chain on a level bottom: no heave, no snatch, no current on \
    the chain, no slope. Real loads come in jerks; keep a margin.";

/// A chain between an anchor on the bottom and the hawse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hang {
    /// Height of the hawse above the seabed.
    pub height: Metres,
    /// Length from the anchor to the hawse, unstretched.
    pub length: Metres,
    /// Weight in water of a metre.
    pub weight: NewtonsPerMetre,
    /// Stiffness EA; none for a chain that does not stretch.
    pub stiffness: Option<Newtons>,
}

/// How the chain lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// Straight down, and the rest lies anyhow on the bottom.
    Vertical,
    /// Part of it lies on the bottom: the pull at the anchor is level.
    Grounded,
    /// All of it is off the bottom: the anchor is pulled upwards.
    Lifted,
    /// It does not reach from the hawse to the bottom.
    TooShort,
}

impl Status {
    /// The name used in stored and sent data.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Vertical => "vertical",
            Self::Grounded => "grounded",
            Self::Lifted => "lifted",
            Self::TooShort => "too_short",
        }
    }
}

/// How a chain hangs under a level pull.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Hung {
    /// How it lies.
    pub status: Status,
    /// Length off the bottom, unstretched.
    pub suspended: Metres,
    /// Length on the bottom, unstretched.
    pub grounded: Metres,
    /// Level distance from anchor to hawse; the greatest possible if nothing pulls.
    pub reach: Metres,
    /// Upward pull of the hawse on the chain.
    pub vertical_at_hawse: Newtons,
    /// Upward pull on the anchor.
    pub vertical_at_anchor: Newtons,
    /// Tension at the hawse.
    pub tension_at_hawse: Newtons,
    /// Tension at the anchor.
    pub tension_at_anchor: Newtons,
    /// Angle of the chain at the hawse, above the level.
    pub angle_at_hawse: Degrees,
    /// Angle of the chain at the anchor, above the level.
    pub angle_at_anchor: Degrees,
    /// The least length with which the pull at the anchor stays level.
    pub least_length: Metres,
}

/// The checked numbers of a [`Hang`]: height, length, weight, stiffness.
struct Checked {
    h: f64,
    l: f64,
    w: f64,
    ea: Option<f64>,
}

impl Hang {
    fn checked(&self) -> Result<Checked, OutOfRange> {
        Ok(Checked {
            h: at_least_zero("depth_hawse_m", self.height.0)?,
            l: above_zero("chain_length_m", self.length.0)?,
            w: above_zero("w_N_per_m", self.weight.0)?,
            ea: match self.stiffness {
                Some(ea) => Some(above_zero("EA_N", ea.0)?),
                None => None,
            },
        })
    }
}

/// Returns how a chain hangs when the ship pulls on it with the level force `pull`.
///
/// Part on the bottom: `s = √(h² + 2ha)`, `X = L − s + a·asinh(s/a)`, `T = H + wh`.
/// All lifted: `X = 2a·asinh(√(L² − h²)/2a)`, `V = H·sinh(atanh(h/L) ± X/2a)`. A chain that
/// stretches by Hooke's law is solved by the same balance with the stretch added.
///
/// # Units
/// m, N, N/m, degrees.
///
/// # Source
/// Routh, *Analytical Statics*, vol. 1, art. 443 (inelastic); Irvine, *Cable Structures* (1981),
/// elastic catenary, from memory.
///
/// # Errors
/// [`OutOfRange`] unless all are finite, height and pull 0 or more, length and weight above 0.
pub fn hang(chain: &Hang, pull: Newtons) -> Result<Hung, OutOfRange> {
    let Checked { h, l, w, ea } = chain.checked()?;
    let pull = at_least_zero("H_N", pull.0)?;
    Ok(match ea {
        Some(ea) => elastic::hang(h, l, w, ea, pull),
        None => inelastic(h, l, w, pull),
    })
}

/// Returns the least length that still lies level at the anchor under the force `pull`.
///
/// `s = √(h² + 2h·H/w)`, or with stretch `s = V/w` from `(T+EA)² = (H+EA)² + 2·EA·w·h`.
///
/// # Source
/// As [`hang`].
///
/// # Errors
/// As [`hang`].
pub fn least_length(
    height: Metres,
    pull: Newtons,
    weight: NewtonsPerMetre,
    stiffness: Option<Newtons>,
) -> Result<Metres, OutOfRange> {
    let h = at_least_zero("depth_hawse_m", height.0)?;
    let w = above_zero("w_N_per_m", weight.0)?;
    let pull = at_least_zero("H_N", pull.0)?;
    Ok(Metres(match stiffness {
        Some(ea) => elastic::level_end(h, w, above_zero("EA_N", ea.0)?, pull).vertical / w,
        None => (h * h + 2.0 * h * pull / w).sqrt(),
    }))
}

/// Returns the length to veer so that `margin` of it lies on the bottom under the force `pull`.
///
/// # Source
/// Routh, *Analytical Statics*, vol. 1, as [`least_length`], and the margin added.
///
/// # Errors
/// As [`hang`], and unless the margin is 0 or more.
pub fn length_for(
    height: Metres,
    pull: Newtons,
    weight: NewtonsPerMetre,
    margin: Metres,
) -> Result<Metres, OutOfRange> {
    let margin = at_least_zero("length_on_bottom_m", margin.0)?;
    Ok(least_length(height, pull, weight, None)? + Metres(margin))
}

/// Returns the level force at which the last link leaves the bottom.
///
/// `H = w(L² − h²)/2h`; with stretch `H = (w²L²/δ − δ)/2`, `δ = w(h − wL²/2EA)`.
///
/// # Source
/// [`least_length`] solved for H; two small-craft theory pages give the same expression.
///
/// # Validity
/// Zero for a chain that only just reaches the bottom.
///
/// # Errors
/// [`OutOfRange`] as [`hang`]; also if the height is 0, where no force can lift the chain, and if
/// the chain is shorter than the height.
pub fn lift_force(chain: &Hang) -> Result<Newtons, OutOfRange> {
    let Checked { h, l, w, ea } = chain.checked()?;
    above_zero("depth_hawse_m", h)?;
    if l < h {
        return Err(OutOfRange::outside(
            "chain_length_m",
            l,
            format!("at least the height of the hawse above the seabed, {h}"),
        ));
    }
    let Some(ea) = ea else {
        return Ok(Newtons(w * (l - h) * (l + h) / (2.0 * h)));
    };
    // T − H of the level chain that just lies to its end, V = wL.
    let above = w * (h - w * l * l / (2.0 * ea));
    if above <= 0.0 {
        return Err(OutOfRange::no_answer(
            "EA_N",
            "the chain stretches faster than a pull lifts it: its last link never leaves the bottom",
        ));
    }
    Ok(Newtons(((w * l).powi(2) / above - above) / 2.0))
}

/// Returns the deepest the hawse may be above the seabed for a chain of length `length`.
///
/// The least-length formula solved for h: `h = √(a² + L²) − a`.
///
/// # Source
/// Routh, *Analytical Statics*, vol. 1, as [`least_length`], solved for the height.
///
/// # Errors
/// [`OutOfRange`] unless length and weight are above 0 and the pull is 0 or more.
pub fn greatest_height(
    length: Metres,
    pull: Newtons,
    weight: NewtonsPerMetre,
) -> Result<Metres, OutOfRange> {
    let l = above_zero("chain_length_m", length.0)?;
    let w = above_zero("w_N_per_m", weight.0)?;
    let a = at_least_zero("H_N", pull.0)? / w;
    // The form without the difference of two nearly equal numbers.
    Ok(Metres(l * l / (a.hypot(l) + a)))
}

fn inelastic(h: f64, l: f64, w: f64, pull: f64) -> Hung {
    let a = pull / w;
    let least = (h * h + 2.0 * h * a).sqrt();
    if l < h {
        return too_short(least);
    }
    if pull == 0.0 {
        return vertical(h, l, w);
    }
    if least <= l {
        let v = w * least;
        return Hung {
            status: Status::Grounded,
            suspended: Metres(least),
            grounded: Metres(l - least),
            reach: Metres(l - least + a * (least / a).asinh()),
            ..at_ends(pull, v, 0.0, least)
        };
    }
    let chord = ((l - h) * (l + h)).sqrt();
    let half = (chord / (2.0 * a)).asinh();
    let reach = 2.0 * a * half;
    let mean = (h / l).atanh();
    // For a chain pulled bar-tight the two halves nearly cancel at the anchor; the difference
    // of the ends is the weight, which is exact.
    let v = pull * (mean + half).sinh();
    let v_anchor = if mean < half {
        v - w * l
    } else {
        pull * (mean - half).sinh()
    };
    if !v.is_finite() || l <= h {
        return vertical(h, l, w);
    }
    Hung {
        status: Status::Lifted,
        suspended: Metres(l),
        grounded: Metres(0.0),
        reach: Metres(reach),
        ..at_ends(pull, v, v_anchor, least)
    }
}

fn too_short(least: f64) -> Hung {
    Hung {
        status: Status::TooShort,
        suspended: Metres(0.0),
        grounded: Metres(0.0),
        reach: Metres(0.0),
        ..at_ends(0.0, 0.0, 0.0, least)
    }
}

fn vertical(h: f64, l: f64, w: f64) -> Hung {
    Hung {
        status: Status::Vertical,
        suspended: Metres(h),
        grounded: Metres(l - h),
        reach: Metres(l - h),
        angle_at_hawse: Degrees(90.0),
        ..at_ends(0.0, w * h, 0.0, h)
    }
}

/// Fills in what follows from the level and the vertical forces alone.
fn at_ends(pull: f64, v: f64, v_anchor: f64, least: f64) -> Hung {
    Hung {
        status: Status::Grounded,
        suspended: Metres(0.0),
        grounded: Metres(0.0),
        reach: Metres(0.0),
        vertical_at_hawse: Newtons(v),
        vertical_at_anchor: Newtons(v_anchor),
        tension_at_hawse: Newtons(pull.hypot(v)),
        tension_at_anchor: Newtons(pull.hypot(v_anchor)),
        angle_at_hawse: Degrees(v.atan2(pull).to_degrees()),
        angle_at_anchor: Degrees(v_anchor.atan2(pull).to_degrees()),
        least_length: Metres(least),
    }
}
