//! The anchoring plan that the demo's masters sign, for the invented anchorage.

use journal::Body;
use journal::body::PlanBody;
use seamanship::plan::{PlanInput, TideMark, work_out};
use seamanship::rules::CableRule;
use seamanship::time::UtcMs;

/// Where the anchor is to lie, degrees north and east of the vessel's own position.
const FROM_VESSEL: (f64, f64) = (0.000_1, 0.000_4);
/// High and low waters, ms after the stay begins, and heights above datum, m; invented.
const TIDE: [(i64, f64); 5] = [
    (-10_080_000, 0.21),
    (12_240_000, 0.62),
    (34_860_000, 0.18),
    (57_000_000, 0.58),
    (79_320_000, 0.20),
];

/// Returns the inputs for a stay of `ship` near `place`.
fn input(ship: &str, place: (f64, f64), from_ms: i64, to_ms: i64) -> PlanInput {
    let mut plan = PlanInput::aldermere_demo();
    let (latitude, longitude) = (place.0 + FROM_VESSEL.0, place.1 + FROM_VESSEL.1);
    // The same dangers, about the other anchorage.
    let by = (
        latitude - plan.place.latitude_deg,
        longitude - plan.place.longitude_deg,
    );
    for danger in &mut plan.dangers {
        danger.latitude_deg += by.0;
        danger.longitude_deg += by.1;
    }
    ship.clone_into(&mut plan.ship.name);
    "Corrow Sound".clone_into(&mut plan.place.name);
    plan.place.latitude_deg = latitude;
    plan.place.longitude_deg = longitude;
    plan.place.charted_depth_m = 26.5;
    plan.choice.rule = CableRule::Scope5;
    plan.cable.port.shackles_aboard = 9.0;
    plan.cable.starboard.shackles_aboard = 9.0;
    plan.stay.from_utc_ms = UtcMs(from_ms);
    plan.stay.to_utc_ms = UtcMs(to_ms);
    let mark = |(after_ms, height_m)| TideMark {
        at_utc_ms: UtcMs(from_ms + after_ms),
        height_m,
    };
    plan.stay.tide = TIDE.map(mark).to_vec();
    plan
}

/// Makes the record's body.
///
/// # Errors
/// What is wrong with the plan, in words.
pub fn body(ship: &str, place: (f64, f64), from_ms: i64, to_ms: i64) -> Result<Body, String> {
    let plan = input(ship, place, from_ms, to_ms);
    let order = ui::bridge::plan::order::order(&plan, &work_out(&plan))
        .ok_or("the demo's plan has no result")?;
    Ok(Body::Plan(PlanBody {
        title: format!("Corrow Sound, from {}", ui::time::date_clock(from_ms)),
        input_json: serde_json::to_string(&plan).map_err(|error| error.to_string())?,
        order,
        reason: None,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_demos_plan_is_sound_and_orders_what_the_demo_lets_out() {
        let from = 1_795_600_000_000;
        let plan = input("Aldermere", (-43.512, -20.061), from, from + 20 * 3_600_000);
        let out = work_out(&plan);
        assert!(out.depth.result.unwrap().is_enough);
        assert!(out.proposed.result.as_ref().unwrap().length.fit.fits());
        assert!(out.room.result.unwrap().is_clear);
        assert!(!out.limits.result.unwrap().is_exceeded);
        let Body::Plan(body) = body("Aldermere", (-43.512, -20.061), from, from + 1).unwrap()
        else {
            panic!("a plan");
        };
        let shackles = super::super::walk::SHACKLES;
        assert_eq!(
            body.order,
            format!("port, {shackles} on deck, lower all the way with the windlass")
        );
    }
}
