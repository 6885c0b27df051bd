//! A plan of which nothing is known. No figure stands in for one that nobody has typed.

use super::entry::NOT_CHOSEN;
use seamanship::chain::{Grade, LinkForm};
use seamanship::holding::{AnchorType, Ground};
use seamanship::plan::{
    Cable, Choice, Gear, Part, Place, PlanInput, PlanOutput, Problem, Ship, Side, SideCable, Stay,
    Weather,
};
use seamanship::rules::{CableRule, RuleDepth};
use seamanship::time::UtcMs;

/// Rows for high and low waters that an empty plan begins with: one before the stay and one after it.
pub const TIDE_ROWS: usize = 2;
/// Stands in a plan for each figure of a cable that is not used and not described: every figure of a cable is more.
pub const UNDESCRIBED: f64 = 0.0;

/// The figures of a cable that nobody has described.
fn undescribed() -> SideCable {
    SideCable {
        anchor_type: AnchorType::Stockless,
        anchor_mass_kg: UNDESCRIBED,
        chain_diameter_mm: UNDESCRIBED,
        chain_grade: Grade::Grade1,
        link_form: LinkForm::Stud,
        shackles_aboard: UNDESCRIBED,
        shackle_length_m: UNDESCRIBED,
        kept_inboard_m: UNDESCRIBED,
        deck_lead_m: UNDESCRIBED,
    }
}

/// Returns the cable of a side.
pub const fn cable_of(plan: &PlanInput, side: Side) -> &SideCable {
    match side {
        Side::Port => &plan.cable.port,
        Side::Starboard => &plan.cable.starboard,
    }
}

/// Says whether nobody has described a cable.
pub fn is_undescribed(cable: &SideCable) -> bool {
    [
        cable.anchor_mass_kg,
        cable.chain_diameter_mm,
        cable.shackles_aboard,
        cable.shackle_length_m,
        cable.kept_inboard_m,
        cable.deck_lead_m,
    ]
    .iter()
    .all(|figure| figure.abs() <= UNDESCRIBED)
}

/// A plan without a figure. Its choices are read from what is typed before anything rests on them.
pub fn plan() -> PlanInput {
    const NONE: f64 = f64::NAN;
    PlanInput {
        place: Place {
            name: String::new(),
            latitude_deg: NONE,
            longitude_deg: NONE,
            charted_depth_m: NONE,
            ground: Ground::Rock,
            room_radius_m: None,
            position_error_m: NONE,
            clearance_m: NONE,
        },
        stay: Stay {
            from_utc_ms: UtcMs(0),
            to_utc_ms: UtcMs(0),
            tide: Vec::new(),
            pressure_hpa: None,
        },
        weather: Weather {
            wind_kn: NONE,
            gust_kn: NONE,
            wind_from_deg: NONE,
            current_kn: NONE,
            current_toward_deg: NONE,
            wave_height_m: NONE,
            yaw_factor: NONE,
        },
        ship: Ship {
            name: String::new(),
            length_overall_m: NONE,
            waterline_length_m: NONE,
            breadth_m: NONE,
            draught_m: NONE,
            displacement_t: NONE,
            frontal_area_m2: NONE,
            wind_coefficient: NONE,
            hawse_height_m: NONE,
            bow_to_antenna_m: NONE,
            least_under_keel_m: NONE,
        },
        cable: Cable {
            side: Side::Port,
            port: undescribed(),
            starboard: undescribed(),
        },
        gear: Gear {
            windlass_pull_kilonewtons: NONE,
            windlass_speed_m_per_min: NONE,
            brake_holding_kilonewtons: NONE,
            stopper_rating_kilonewtons: None,
            walk_out_beyond_m: NONE,
        },
        choice: Choice {
            rule: CableRule::Scope6,
            rule_depth: RuleDepth::Hawse,
            length_on_bottom_m: NONE,
            ordered_shackles: None,
        },
        dangers: Vec::new(),
    }
}

/// Takes away what rests on a choice that nobody has made, so that no figure stands on one of ours.
pub fn withhold(output: &mut PlanOutput, choice: &str) {
    fn take<T>(part: &mut Part<T>, problem: &Problem) {
        part.result = Err(problem.clone());
    }
    let problem = Problem {
        field: choice.to_owned(),
        words: NOT_CHOSEN.to_owned(),
    };
    for row in &mut output.by_rule {
        take(&mut row.length, &problem);
    }
    take(&mut output.by_catenary, &problem);
    take(&mut output.proposed, &problem);
    take(&mut output.hanging, &problem);
    take(&mut output.holding, &problem);
    take(&mut output.limits, &problem);
    take(&mut output.room, &problem);
    take(&mut output.windlass, &problem);
    take(&mut output.brake, &problem);
    take(&mut output.method, &problem);
}
