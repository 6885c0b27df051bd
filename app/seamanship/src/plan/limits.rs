//! What anchor and chain hold, and the winds at which something gives.

use std::borrow::Cow;

use super::forces::WindLaw;
use super::length::{InUse, chain_of};
use super::{
    Depth, Hanging, Holding, LimitKind, LimitRow, Limits, PlanInput, Problem, Proposed, Pull,
};
use crate::catenary::{Hang, hang, lift_force};
use crate::chain::breaking_load;
use crate::error::above_zero;
use crate::holding::{self, chain_friction, part_kept};
use crate::load::CLASS_ENVELOPE;
use crate::root::crossing;
use crate::units::{Degrees, Kilograms, Kilonewtons, Knots, Metres, Millimetres, Newtons};

fn anchor_band(input: &PlanInput) -> Result<holding::Band, Problem> {
    let cable = input.cable.in_use();
    Ok(holding::anchor(
        cable.anchor_type,
        Kilograms(cable.anchor_mass_kg),
        input.place.ground,
    )?)
}

/// What part of the anchor's holding is counted with the shank at this angle.
fn counted(angle: Degrees) -> f64 {
    // Beyond 15° the source gives none, and none is counted.
    part_kept(Degrees(angle.0.max(0.0))).unwrap_or(0.0)
}

pub(super) fn holding(
    input: &PlanInput,
    cable: &Result<InUse, Problem>,
    pull: &Result<Pull, Problem>,
    hanging: &Result<Hanging, Problem>,
) -> Result<Holding, Problem> {
    let (cable, hanging) = (cable.as_ref()?, hanging.as_ref()?);
    let band = anchor_band(input)?;
    let kept = counted(Degrees(hanging.angle_at_anchor_deg));
    let chain = chain_friction(Metres(hanging.grounded_m), cable.weight, input.place.ground)?;
    let kilonewtons = |force: Newtons| Kilonewtons::from(force).0;
    let low = kilonewtons(band.low * kept + chain);
    let design_kilonewtons = pull.as_ref()?.design_kilonewtons;
    Ok(Holding {
        anchor_low_kilonewtons: kilonewtons(band.low * kept),
        anchor_high_kilonewtons: kilonewtons(band.high * kept),
        chain_kilonewtons: kilonewtons(chain),
        low_kilonewtons: low,
        high_kilonewtons: kilonewtons(band.high * kept + chain),
        margin: (design_kilonewtons > 0.0).then(|| low / design_kilonewtons),
    })
}

/// The level pull at which the lower figure of the holding is used up.
fn drag_pull(input: &PlanInput, chain: &Hang, lift: Newtons) -> Result<Newtons, Problem> {
    let band = anchor_band(input)?;
    let ground = input.place.ground;
    let left = |pull: f64| {
        hang(chain, Newtons(pull)).map_or(f64::NAN, |hung| {
            let friction = chain_friction(hung.grounded, chain.weight, ground).map_or(0.0, |f| f.0);
            band.low.0 * counted(hung.angle_at_anchor) + friction - pull
        })
    };
    let most = 2.0 * (band.low.0 + chain.weight.0 * chain.length.0 + lift.0);
    Ok(Newtons(crossing(left, 0.0, most).unwrap_or(0.0)))
}

/// The level pull at which the tension at the hawse reaches a rating.
fn pull_at_tension(chain: &Hang, rating: Newtons) -> Newtons {
    let over = |pull: f64| {
        hang(chain, Newtons(pull)).map_or(f64::NAN, |hung| hung.tension_at_hawse.0 - rating.0)
    };
    // Below the weight of the hanging chain alone no pull is left.
    Newtons(crossing(over, 0.0, rating.0).unwrap_or(0.0))
}

pub(super) fn limits(
    input: &PlanInput,
    cable: &Result<InUse, Problem>,
    depth: &Result<Depth, Problem>,
    proposed: &Result<Proposed, Problem>,
) -> Result<Limits, Problem> {
    let (cable, depth, proposed) = (cable.as_ref()?, depth.as_ref()?, proposed.as_ref()?);
    let law = WindLaw::of(input)?;
    let chain = chain_of(cable, proposed, depth.hawse_greatest_m);
    let lift = lift_force(&chain)?;
    let side = input.cable.in_use();
    let breaking = breaking_load(Millimetres(side.chain_diameter_mm), side.chain_grade)?;
    let brake = Kilonewtons(above_zero(
        "gear.brake_holding_kilonewtons",
        input.gear.brake_holding_kilonewtons,
    )?);
    let mut pulls = vec![
        (LimitKind::ChainLifts, lift),
        (LimitKind::AnchorDrags, drag_pull(input, &chain, lift)?),
        (
            LimitKind::ChainLoad,
            pull_at_tension(&chain, breaking * 0.45),
        ),
    ];
    // With a stopper fitted the chain rides on it, and the brake is a second line.
    match input.gear.stopper_rating_kilonewtons {
        Some(rating) => {
            let rating = Kilonewtons(above_zero("gear.stopper_rating_kilonewtons", rating)?);
            pulls.push((LimitKind::Stopper, pull_at_tension(&chain, rating.into())));
        }
        None => pulls.push((LimitKind::Brake, pull_at_tension(&chain, brake.into()))),
    }
    let mut rows: Vec<LimitRow> = pulls
        .into_iter()
        .map(|(kind, pull)| row(&law, kind, Some(pull), law.gust_for(pull)))
        .collect();
    rows.push(row(
        &law,
        LimitKind::ClassEnvelope,
        None,
        CLASS_ENVELOPE.wind.into(),
    ));
    rows.sort_by(|a, b| a.gust_kn.total_cmp(&b.gust_kn));
    let beyond = beyond(&rows[0]);
    Ok(Limits {
        is_exceeded: input.weather.gust_kn > rows[0].gust_kn,
        beyond,
        rows,
    })
}

fn row(law: &WindLaw, kind: LimitKind, pull: Option<Newtons>, gust: Knots) -> LimitRow {
    let words = match kind {
        LimitKind::ChainLifts => "the last link lifts off the bottom",
        LimitKind::AnchorDrags => "the anchor drags, by the lower figure of its holding",
        LimitKind::ChainLoad => "the chain carries 45 % of its breaking load",
        LimitKind::Brake => "the brake reaches its holding load",
        LimitKind::Stopper => "the stopper reaches its rating",
        LimitKind::ClassEnvelope => "the wind that class equipment is meant for, 25 m/s",
    };
    LimitRow {
        kind,
        words: Cow::Borrowed(words),
        pull_kilonewtons: pull.map(|pull| Kilonewtons::from(pull).0),
        gust_kn: gust.0,
        mean_kn: law.mean_of(gust).0,
    }
}

fn beyond(first: &LimitRow) -> String {
    let act = match first.kind {
        LimitKind::ChainLifts => {
            "veer more while it is still easy, if it is aboard and there is room; engines ready, \
             ease her with them; else weigh in good time"
        }
        LimitKind::AnchorDrags => {
            "engines ready before it, ease her with them; veer early, not when she is dragging; \
             weigh in good time"
        }
        LimitKind::ChainLoad | LimitKind::Brake | LimitKind::Stopper => {
            "engines on to take the load off the gear; weigh in good time"
        }
        LimitKind::ClassEnvelope => "leave before it comes: the gear is not made for it",
    };
    format!(
        "At gusts of {:.0} kn (mean {:.0} kn) {}. Before that: {act}.",
        first.gust_kn, first.mean_kn, first.words
    )
}
