//! The anchoring plan: what the master enters, and what comes out of it.
//!
//! [`work_out`] is pure and quick enough to run at every keystroke. Each part of its result stands
//! alone: an input that is wrong blanks only what needs it, and says so in words at its own path.

mod depth;
mod forces;
mod gear;
mod input;
mod length;
mod limits;
mod output;
mod problem;
mod room;

use std::borrow::Cow;

use crate::position::Position;
use crate::time::UtcMs;
use crate::units::Metres;
use crate::{catenary, holding, load, position, signals, sun, tide, windlass};

pub use input::*;
pub use output::*;

const METHOD_SOURCE: &str = "ILO, Accident prevention on board ship at sea and in port, 2nd edition, \
    1996, 19.2.2, read in excerpt; 12 and 30 m, and hard ground: common practice, no source";
const METHOD_CAUTION: &str = "A proposal: the master decides. Lowering all of it is always \
    defensible.";
const SPEEDS_SOURCE: &str = "The windlass's own speed; nearly stopped at the bottom, and 0.5 kn \
    while laying out: common practice, no source";
const SPEEDS_CAUTION: &str = "Faster than the windlass pays out, the chain drives the motor.";
const LIMITS_SOURCE: &str = "The catenary, the holding band and the ratings entered, each solved \
    for the wind; class envelope: IACS UR A1";
const LIMITS_CAUTION: &str = "An estimate from a steady pull times the yaw factor; swell is not \
    in it. Set the triggers below it, and act early.";
const PROPOSAL_SOURCE: &str = "The longer of the ship's rule and the catenary, up to the next \
    half shackle";
const PROPOSAL_CAUTION: &str = "A proposal: the master orders the length.";

/// Works out a plan.
///
/// # Units
/// As the fields' names say; forces in kilonewtons, winds in knots.
///
/// # Source
/// Each part bears its own, and its caution.
pub fn work_out(input: &PlanInput) -> PlanOutput {
    let depth = depth::work_out(input);
    let pull = forces::pull(input);
    let cable = length::InUse::of(input.cable.in_use());
    let by_rule = length::by_rule(input, &cable, &depth);
    let by_catenary = length::by_catenary(input, &cable, &depth, &pull);
    let proposed = length::proposed(input, &cable, &depth, &by_rule, &by_catenary);
    let hanging = length::hanging(&cable, &depth, &pull, &proposed);
    let held = limits::holding(input, &cable, &pull, &hanging);
    let limits = limits::limits(input, &cable, &depth, &proposed);
    let room = room::work_out(input, &cable, &depth, &pull, &proposed);
    let windlass = gear::windlass(input, &depth, &proposed);
    let method = gear::method(input, &depth);
    let to = Parts { input };
    PlanOutput {
        depth: to.part(depth, tide::SOURCE, tide::CAUTION),
        pull: to.part(pull, load::SOURCE, load::CAUTION),
        by_rule,
        by_catenary: to.part(by_catenary, catenary::SOURCE, catenary::CAUTION),
        proposed: to.part(proposed, PROPOSAL_SOURCE, PROPOSAL_CAUTION),
        hanging: to.part(hanging, catenary::SOURCE, catenary::CAUTION),
        holding: to.part(held, holding::SOURCE, holding::CAUTION),
        limits: to.part(limits, LIMITS_SOURCE, LIMITS_CAUTION),
        room: to.part(room, position::SOURCE, position::CAUTION),
        windlass: to.part(windlass, windlass::SOURCE, windlass::CAUTION),
        brake: to.part(gear::brake(input), windlass::SOURCE, windlass::CAUTION),
        method: to.part(method, METHOD_SOURCE, METHOD_CAUTION),
        speeds: to.part(gear::speeds(input), SPEEDS_SOURCE, SPEEDS_CAUTION),
        signals: to.part(signals_due(input), signals::SOURCE, signals::CAUTION),
        sun: to.part(sun_times(input), sun::SOURCE, sun::CAUTION),
    }
}

/// Puts results, sources and cautions together.
struct Parts<'a> {
    input: &'a PlanInput,
}

impl Parts<'_> {
    fn part<T>(
        &self,
        result: Result<T, Problem>,
        source: &'static str,
        caution: &'static str,
    ) -> Part<T> {
        Part {
            result: result.map_err(|problem| problem.on_side(self.input)),
            source: Cow::Borrowed(source),
            caution: Cow::Borrowed(caution),
        }
    }
}

fn signals_due(input: &PlanInput) -> Result<signals::Signals, Problem> {
    Ok(signals::at_anchor(Metres(input.ship.length_overall_m))?)
}

/// The day on which the stay begins, by the Sun at the place.
fn sun_times(input: &PlanInput) -> Result<sun::Day, Problem> {
    const DAY_MS: i64 = 86_400_000;
    let place = Position::new(input.place.latitude_deg, input.place.longitude_deg)?;
    let local = input
        .stay
        .from_utc_ms
        .plus_seconds(place.longitude_deg * 240.0);
    let midnight = UtcMs(local.0.div_euclid(DAY_MS).saturating_mul(DAY_MS));
    Ok(sun::day(place, midnight)?)
}
