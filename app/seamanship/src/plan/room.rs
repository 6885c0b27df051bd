//! The swinging circle against the room and the dangers.

use super::length::{InUse, chain_of, design};
use super::{Danger, DangerSeen, Depth, PlanInput, Problem, Proposed, Pull, Room, Seen};
use crate::catenary::hang;
use crate::error::within;
use crate::position::{Position, swinging_radius_straight, watch_circle, way};
use crate::units::Metres;

pub(super) fn work_out(
    input: &PlanInput,
    cable: &Result<InUse, Problem>,
    depth: &Result<Depth, Problem>,
    pull: &Result<Pull, Problem>,
    proposed: &Result<Proposed, Problem>,
) -> Result<Room, Problem> {
    let (cable, depth) = (cable.as_ref()?, depth.as_ref()?);
    let (pull, proposed) = (pull.as_ref()?, proposed.as_ref()?);
    let length_overall = within(
        "ship.length_overall_m",
        input.ship.length_overall_m,
        1.0,
        500.0,
    )?;
    let antenna = within(
        "ship.bow_to_antenna_m",
        input.ship.bow_to_antenna_m,
        0.0,
        500.0,
    )?;
    let error_m = within(
        "place.position_error_m",
        input.place.position_error_m,
        0.0,
        500.0,
    )?;
    let clearance_m = within("place.clearance_m", input.place.clearance_m, 0.0, 5000.0)?;
    // At low water the chain reaches farthest.
    let hawse_low_m = depth.water_least_m + input.ship.hawse_height_m;
    let chain = chain_of(cable, proposed, hawse_low_m);
    let straight = swinging_radius_straight(chain.length, chain.height, Metres(length_overall))?;
    let reach = hang(&chain, design(pull))?.reach;
    let straight_reach = Metres(straight.0 - length_overall);
    let watch = watch_circle(
        straight_reach,
        Metres(antenna),
        Metres((length_overall - antenna).max(0.0)),
        Metres(error_m),
    )?;
    let needed_m = straight.0 + error_m + clearance_m;
    let tide_least_m = depth.water_least_m - input.place.charted_depth_m;
    let anchor = Position::new(input.place.latitude_deg, input.place.longitude_deg)?;
    let mut dangers: Vec<DangerSeen> = input
        .dangers
        .iter()
        .enumerate()
        .map(|(index, danger)| DangerSeen {
            name: danger.name.clone(),
            seen: see(input, anchor, danger, tide_least_m, needed_m)
                .map_err(|problem| in_list(problem, index)),
        })
        .collect();
    dangers.sort_by(|a, b| distance(a).total_cmp(&distance(b)));
    let room_spare_m = match input.place.room_radius_m {
        Some(radius) => Some(within("place.room_radius_m", radius, 0.0, 20_000.0)? - needed_m),
        None => None,
    };
    // A danger that cannot be placed is not clear.
    let is_clear = room_spare_m.is_none_or(|spare| spare >= 0.0)
        && dangers.iter().all(|danger| match &danger.seen {
            Ok(seen) => !seen.is_foul || seen.clear_by_m >= 0.0,
            Err(_) => false,
        });
    Ok(Room {
        swing_radius_m: straight.0,
        swing_radius_expected_m: reach.0 + length_overall,
        watch_radius_m: watch.antenna_radius.0,
        needed_radius_m: needed_m,
        room_spare_m,
        dangers,
        is_clear,
    })
}

/// Dangers without a place come first.
fn distance(danger: &DangerSeen) -> f64 {
    danger.seen.as_ref().map_or(-1.0, |seen| seen.distance_m)
}

fn in_list(problem: Problem, index: usize) -> Problem {
    match problem.field.strip_prefix("place.") {
        Some(field) => Problem {
            field: format!("dangers[{index}].{field}"),
            words: problem.words,
        },
        None => problem,
    }
}

fn see(
    input: &PlanInput,
    anchor: Position,
    danger: &Danger,
    tide_least_m: f64,
    needed_m: f64,
) -> Result<Seen, Problem> {
    let place = Position::new(danger.latitude_deg, danger.longitude_deg)?;
    let is_foul = match danger.charted_depth_m {
        Some(charted) => {
            let charted = crate::error::finite("charted_depth_m", charted)?;
            charted + tide_least_m < input.ship.draught_m + input.ship.least_under_keel_m
        }
        None => true,
    };
    let way = way(anchor, place)?;
    let bearing = way.bearings.map(|bearings| bearings.start.0);
    let (east, north) = bearing.unwrap_or(0.0).to_radians().sin_cos();
    Ok(Seen {
        distance_m: way.distance.0,
        bearing_deg: bearing,
        east_m: way.distance.0 * east,
        north_m: way.distance.0 * north,
        is_foul,
        clear_by_m: way.distance.0 - needed_m,
    })
}
