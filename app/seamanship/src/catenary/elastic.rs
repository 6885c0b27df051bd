//! A chain that stretches by Hooke's law; lengths are unstretched, weight is per unstretched metre.

use super::{Hung, Status, at_ends};
use crate::root::crossing;
use crate::units::{Degrees, Metres};

/// Forces at the hawse when the other end of the suspended part is level.
pub(super) struct LevelEnd {
    pub(super) vertical: f64,
    pub(super) tension: f64,
}

/// Solves `h = (T − H)/w + V²/(2·EA·w)` with `T² = H² + V²`.
///
/// In T it is a quadratic, `(T + EA)² = (H + EA)² + 2·EA·w·h`; `T − H` is taken without the
/// difference of two large numbers.
pub(super) fn level_end(h: f64, w: f64, ea: f64, pull: f64) -> LevelEnd {
    let stiff = pull + ea;
    let gain = 2.0 * ea * w * h;
    let above = gain / ((stiff * stiff + gain).sqrt() + stiff);
    LevelEnd {
        vertical: (above * (2.0 * pull + above)).sqrt(),
        tension: pull + above,
    }
}

pub(super) fn hang(h: f64, l: f64, w: f64, ea: f64, pull: f64) -> Hung {
    let level = level_end(h, w, ea, pull);
    let least = level.vertical / w;
    if least <= l {
        return grounded(l, w, ea, pull, &level);
    }
    if pull == 0.0 {
        return hanging_straight(h, l, w, ea, least);
    }
    // m is the vertical force at the middle of the chain; the height rises steadily with it.
    let weight = w * l;
    let height_of = |m: f64| {
        let (top, bottom) = (pull.hypot(m + weight / 2.0), pull.hypot(m - weight / 2.0));
        l * m * (2.0 / (top + bottom) + 1.0 / ea)
    };
    let least_m = weight / 2.0;
    let mut most_m = least_m + pull + weight;
    while height_of(most_m) < h && most_m.is_finite() {
        most_m *= 4.0;
    }
    let m = crossing(|m| height_of(m) - h, least_m, most_m).unwrap_or(least_m);
    let (v, v_anchor) = (m + weight / 2.0, m - weight / 2.0);
    let a = pull / w;
    let reach = a * ((v / pull).asinh() - (v_anchor / pull).asinh()) + pull * l / ea;
    Hung {
        status: Status::Lifted,
        suspended: Metres(l),
        grounded: Metres(0.0),
        reach: Metres(reach),
        ..at_ends(pull, v, v_anchor, least)
    }
}

fn grounded(l: f64, w: f64, ea: f64, pull: f64, level: &LevelEnd) -> Hung {
    let v = level.vertical;
    let s = v / w;
    let mut hung = Hung {
        status: Status::Grounded,
        suspended: Metres(s),
        grounded: Metres(l - s),
        reach: Metres(l - s),
        ..at_ends(pull, v, 0.0, s)
    };
    hung.tension_at_hawse.0 = level.tension;
    if pull == 0.0 {
        hung.status = Status::Vertical;
        hung.angle_at_hawse = Degrees(90.0);
    } else {
        hung.reach.0 += pull / w * (v / pull).asinh() + pull * l / ea;
    }
    hung
}

/// A chain too short to reach the bottom unstretched, pulled straight up and down.
fn hanging_straight(h: f64, l: f64, w: f64, ea: f64, least: f64) -> Hung {
    // h = L + (V·L − w·L²/2)/EA.
    let v = ea * (h - l) / l + w * l / 2.0;
    Hung {
        status: Status::Vertical,
        suspended: Metres(l),
        grounded: Metres(0.0),
        reach: Metres(0.0),
        angle_at_hawse: Degrees(90.0),
        angle_at_anchor: Degrees(90.0),
        ..at_ends(0.0, v, (v - w * l).max(0.0), least)
    }
}
