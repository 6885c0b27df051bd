//! Windlass, brake, stopper, method and speeds.

use super::{BrakeCheck, Depth, Method, PlanInput, Problem, Proposed, Speeds, WindlassCheck};
use crate::chain::breaking_load;
use crate::error::{above_zero, within};
use crate::units::{Kilograms, Kilonewtons, Metres, MetresPerMinute, Millimetres, Newtons};
use crate::windlass::{
    self, Hanging, Stopper, brake_asked, class_pull, heaving_time, stopper_asked, walk_out_speed,
};

fn speed(input: &PlanInput) -> Result<MetresPerMinute, Problem> {
    Ok(MetresPerMinute(within(
        "gear.windlass_speed_m_per_min",
        input.gear.windlass_speed_m_per_min,
        1.0,
        60.0,
    )?))
}

pub(super) fn windlass(
    input: &PlanInput,
    depth: &Result<Depth, Problem>,
    proposed: &Result<Proposed, Problem>,
) -> Result<WindlassCheck, Problem> {
    let (depth, proposed) = (depth.as_ref()?, proposed.as_ref()?);
    let cable = input.cable.in_use();
    let certificate = Kilonewtons(above_zero(
        "gear.windlass_pull_kilonewtons",
        input.gear.windlass_pull_kilonewtons,
    )?);
    let hanging = Hanging {
        diameter: Millimetres(cable.chain_diameter_mm),
        form: cable.link_form,
        anchor: Kilograms(cable.anchor_mass_kg),
    };
    let hawse = Metres(depth.hawse_greatest_m);
    let needed = hanging.lift_needed(hawse)?;
    let class = class_pull(hanging.diameter, cable.chain_grade, hawse)?;
    let kilonewtons = |force: Newtons| Kilonewtons::from(force).0;
    Ok(WindlassCheck {
        needed_kilonewtons: kilonewtons(needed),
        certificate_kilonewtons: certificate.0,
        class_kilonewtons: kilonewtons(class),
        greatest_depth_m: hanging.greatest_depth(certificate.into())?.0,
        is_enough: Newtons::from(certificate) >= needed,
        heave_minutes: heaving_time(Metres(proposed.length.length_m), speed(input)?)?.0,
    })
}

pub(super) fn brake(input: &PlanInput) -> Result<BrakeCheck, Problem> {
    let cable = input.cable.in_use();
    let breaking = breaking_load(Millimetres(cable.chain_diameter_mm), cable.chain_grade)?;
    let brake = above_zero(
        "gear.brake_holding_kilonewtons",
        input.gear.brake_holding_kilonewtons,
    )?;
    let (fitted, stopper) = match input.gear.stopper_rating_kilonewtons {
        Some(rating) => (
            Stopper::Fitted,
            Some(above_zero("gear.stopper_rating_kilonewtons", rating)?),
        ),
        None => (Stopper::None, None),
    };
    let kilonewtons = |force: Newtons| Kilonewtons::from(force).0;
    let brake_asked_kilonewtons = kilonewtons(brake_asked(breaking, fitted)?);
    let stopper_asked_kilonewtons = kilonewtons(stopper_asked(breaking)?);
    Ok(BrakeCheck {
        breaking_kilonewtons: kilonewtons(breaking),
        brake_kilonewtons: brake,
        brake_asked_kilonewtons,
        brake_is_enough: brake >= brake_asked_kilonewtons,
        stopper_kilonewtons: stopper,
        stopper_asked_kilonewtons,
        stopper_is_enough: stopper.map(|rating| rating >= stopper_asked_kilonewtons),
    })
}

pub(super) fn method(input: &PlanInput, depth: &Result<Depth, Problem>) -> Result<Method, Problem> {
    let proposal = windlass::laying(
        Metres(depth.as_ref()?.hawse_greatest_m),
        Metres(input.gear.walk_out_beyond_m),
        input.place.ground,
    )?;
    Ok(Method {
        laying: proposal.laying,
        reason: proposal.reason,
    })
}

pub(super) fn speeds(input: &PlanInput) -> Result<Speeds, Problem> {
    Ok(Speeds {
        walk_out_kn: walk_out_speed(speed(input)?)?.0,
        touch_kn: windlass::TOUCH_SPEED.0,
        lay_out_kn: windlass::LAY_OUT_SPEED.0,
    })
}
