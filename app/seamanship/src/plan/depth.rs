//! Depth of water, under the keel and from the hawse, over the stay.

use super::{Depth, DepthPoint, PlanInput, Problem};
use crate::error::within;
use crate::tide::{self, Allowances, Curve, Extreme};
use crate::time::UtcMs;
use crate::units::Metres;

/// Pieces into which the stay is cut for drawing.
const PIECES: u32 = 96;

pub(super) fn work_out(input: &PlanInput) -> Result<Depth, Problem> {
    let charted = within(
        "place.charted_depth_m",
        input.place.charted_depth_m,
        0.0,
        300.0,
    )?;
    let hawse = within("ship.hawse_height_m", input.ship.hawse_height_m, 0.0, 30.0)?;
    within("ship.draught_m", input.ship.draught_m, 0.0, 30.0)?;
    let least_kept = within(
        "ship.least_under_keel_m",
        input.ship.least_under_keel_m,
        0.0,
        30.0,
    )?;
    let (from, to) = (input.stay.from_utc_ms, input.stay.to_utc_ms);
    let extremes = input.stay.tide.iter().map(|mark| Extreme {
        at: mark.at_utc_ms,
        height: Metres(mark.height_m),
    });
    let curve = Curve::new(extremes.collect())?;
    let pressure = match input.stay.pressure_hpa {
        Some(hpa) => tide::pressure_rise(hpa)?,
        None => Metres(0.0),
    };
    let (low, high) = curve.range_over(from, to)?;
    let under_keel =
        |height: Metres| tide::under_keel(Metres(charted), height + pressure, &allowances(input));
    let under_keel_least_m = under_keel(low.height)?.0;
    let length_s = to.seconds_since(from);
    let series = (0..=PIECES)
        .map(|piece| {
            let at = if piece == PIECES {
                to
            } else {
                from.plus_seconds(length_s * f64::from(piece) / f64::from(PIECES))
            };
            point(&curve, at, charted + pressure.0, &under_keel)
        })
        .collect::<Result<Vec<_>, Problem>>()?;
    Ok(Depth {
        water_least_m: charted + low.height.0 + pressure.0,
        water_greatest_m: charted + high.height.0 + pressure.0,
        under_keel_least_m,
        under_keel_least_at: low.at,
        is_enough: under_keel_least_m >= least_kept,
        hawse_greatest_m: charted + high.height.0 + pressure.0 + hawse,
        hawse_greatest_at: high.at,
        series,
    })
}

/// Only the waves are taken off: at anchor she neither squats nor heels to a turn.
fn allowances(input: &PlanInput) -> Allowances {
    Allowances {
        draught: Metres(input.ship.draught_m),
        breadth: Metres(0.0),
        heel_deg: 0.0,
        wave_height: Metres(input.weather.wave_height_m),
        margin: Metres(0.0),
    }
}

fn point(
    curve: &Curve,
    at: UtcMs,
    without_tide_m: f64,
    under_keel: &impl Fn(Metres) -> Result<Metres, crate::OutOfRange>,
) -> Result<DepthPoint, Problem> {
    let height = curve.height(at)?;
    Ok(DepthPoint {
        at_utc_ms: at,
        water_m: without_tide_m + height.0,
        under_keel_m: under_keel(height)?.0,
    })
}
