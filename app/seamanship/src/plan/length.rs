//! How much cable: by the rules, by the catenary, what is proposed, and whether it is aboard.

use std::borrow::Cow;

use super::{
    Basis, Depth, Fit, Hanging, Length, Part, PlanInput, Problem, Proposed, Pull, RuleRow,
    SideCable,
};
use crate::catenary::{self, Hang, Status, hang, lift_force, shape};
use crate::chain::submerged_weight_of;
use crate::error::{above_zero, within};
use crate::rules::{self, Aboard, CableRule, RuleDepth};
use crate::units::{Kilonewtons, Metres, Millimetres, Newtons, NewtonsPerMetre};

/// Pieces of the drawn curve.
const PIECES: usize = 48;

/// The cable in use, checked.
#[derive(Clone, Copy)]
pub(super) struct InUse {
    pub(super) weight: NewtonsPerMetre,
    pub(super) usable: Metres,
    shackle_m: f64,
    lead_m: f64,
}

impl InUse {
    pub(super) fn of(cable: &SideCable) -> Result<Self, Problem> {
        let count = within(
            "cable.in_use.shackles_aboard",
            cable.shackles_aboard,
            0.5,
            30.0,
        )?;
        let shackle_m = within(
            "cable.in_use.shackle_length_m",
            cable.shackle_length_m,
            15.0,
            40.0,
        )?;
        within(
            "cable.in_use.chain_diameter_mm",
            cable.chain_diameter_mm,
            12.5,
            162.0,
        )?;
        let aboard = Aboard {
            total: Metres(count * shackle_m),
            deck_lead: Metres(cable.deck_lead_m),
            kept_inboard: Metres(cable.kept_inboard_m),
        };
        Ok(Self {
            weight: submerged_weight_of(Millimetres(cable.chain_diameter_mm), cable.link_form)?,
            usable: aboard.usable()?,
            shackle_m,
            lead_m: cable.deck_lead_m,
        })
    }

    fn at_gypsy(&self, length_m: f64) -> f64 {
        (length_m + self.lead_m) / self.shackle_m
    }

    /// The length between hawse and anchor with this mark at the gypsy.
    fn with_mark(&self, shackles: f64) -> f64 {
        shackles * self.shackle_m - self.lead_m
    }

    fn length(&self, length_m: f64, hawse_m: f64) -> Length {
        Length {
            length_m,
            shackles: length_m / self.shackle_m,
            at_gypsy_shackles: self.at_gypsy(length_m),
            scope: if hawse_m > 0.0 {
                length_m / hawse_m
            } else {
                0.0
            },
            fit: Fit {
                usable_m: self.usable.0,
                short_by_m: (length_m - self.usable.0).max(0.0),
            },
        }
    }
}

pub(super) fn by_rule(
    input: &PlanInput,
    cable: &Result<InUse, Problem>,
    depth: &Result<Depth, Problem>,
) -> Vec<RuleRow> {
    CableRule::ALL
        .into_iter()
        .map(|rule| RuleRow {
            rule,
            name: Cow::Borrowed(rule.name()),
            formula: Cow::Borrowed(rule.formula()),
            is_chosen: rule == input.choice.rule,
            length: Part {
                result: one_rule(input, rule, cable, depth).map_err(|p| p.on_side(input)),
                source: Cow::Borrowed(rule.source()),
                caution: Cow::Borrowed(rules::CAUTION),
            },
        })
        .collect()
}

fn one_rule(
    input: &PlanInput,
    rule: CableRule,
    cable: &Result<InUse, Problem>,
    depth: &Result<Depth, Problem>,
) -> Result<Length, Problem> {
    let (cable, depth) = (cable.as_ref()?, depth.as_ref()?);
    let counted = match input.choice.rule_depth {
        RuleDepth::Water => depth.water_greatest_m,
        RuleDepth::Hawse => depth.hawse_greatest_m,
    };
    let length = rule.length(Metres(counted), Metres(cable.shackle_m))?;
    Ok(cable.length(length.0, depth.hawse_greatest_m))
}

pub(super) fn by_catenary(
    input: &PlanInput,
    cable: &Result<InUse, Problem>,
    depth: &Result<Depth, Problem>,
    pull: &Result<Pull, Problem>,
) -> Result<Length, Problem> {
    let (cable, depth, pull) = (cable.as_ref()?, depth.as_ref()?, pull.as_ref()?);
    let margin = within(
        "choice.length_on_bottom_m",
        input.choice.length_on_bottom_m,
        0.0,
        300.0,
    )?;
    let length = catenary::length_for(
        Metres(depth.hawse_greatest_m),
        design(pull),
        cable.weight,
        Metres(margin),
    )?;
    Ok(cable.length(length.0, depth.hawse_greatest_m))
}

pub(super) fn design(pull: &Pull) -> Newtons {
    Kilonewtons(pull.design_kilonewtons).into()
}

pub(super) fn proposed(
    input: &PlanInput,
    cable: &Result<InUse, Problem>,
    depth: &Result<Depth, Problem>,
    rows: &[RuleRow],
    by_catenary: &Result<Length, Problem>,
) -> Result<Proposed, Problem> {
    let (cable, depth) = (cable.as_ref()?, depth.as_ref()?);
    let hawse_m = depth.hawse_greatest_m;
    let chosen = rows
        .iter()
        .find(|row| row.is_chosen)
        .and_then(|row| row.length.result.as_ref().ok().map(|length| (row, length)));
    let (wanted_m, basis, why) = match (chosen, by_catenary) {
        (Some((row, rule)), Ok(curve)) if rule.length_m >= curve.length_m => (
            rule.length_m,
            Basis::Rule,
            format!(
                "{} asks for {:.0} m, more than the {:.0} m of the catenary",
                row.name, rule.length_m, curve.length_m
            ),
        ),
        (Some((row, rule)), Ok(curve)) => (
            curve.length_m,
            Basis::Catenary,
            format!(
                "the catenary asks for {:.0} m, more than the {:.0} m of {}",
                curve.length_m, rule.length_m, row.name
            ),
        ),
        (Some((row, rule)), Err(_)) => (
            rule.length_m,
            Basis::Rule,
            format!("{} asks for {:.0} m; no catenary", row.name, rule.length_m),
        ),
        (None, Ok(curve)) => (
            curve.length_m,
            Basis::Catenary,
            format!(
                "the catenary asks for {:.0} m; the chosen rule gives none",
                curve.length_m
            ),
        ),
        (None, Err(problem)) => return Err(problem.clone()),
    };
    if let Some(shackles) = input.choice.ordered_shackles {
        return ordered(cable, shackles, hawse_m, wanted_m, &why);
    }
    // Up to the next half shackle; what is a hair over a mark is at the mark.
    let mark = ((cable.at_gypsy(wanted_m) * 2.0 - 1e-9).ceil() / 2.0).max(0.5);
    let rounded_m = cable.with_mark(mark);
    if rounded_m <= cable.usable.0 {
        return Ok(Proposed {
            length: cable.length(rounded_m, hawse_m),
            basis,
            reason: format!("{why}; up to the next half shackle: {mark} at the gypsy"),
            wanted_m,
        });
    }
    let missing_m = wanted_m - cable.usable.0;
    let reason = if missing_m > 0.0 {
        format!(
            "{why}, but only {:.1} m can be veered: short by {missing_m:.1} m. With all of it out \
             the scope is {:.1}",
            cable.usable.0,
            cable.usable.0 / hawse_m
        )
    } else {
        format!(
            "{why}; the next half shackle is not aboard, so all that can be veered, {:.1} m",
            cable.usable.0
        )
    };
    Ok(Proposed {
        length: cable.length(cable.usable.0, hawse_m),
        basis: Basis::AllAboard,
        reason,
        wanted_m,
    })
}

fn ordered(
    cable: &InUse,
    shackles: f64,
    hawse_m: f64,
    wanted_m: f64,
    why: &str,
) -> Result<Proposed, Problem> {
    above_zero("choice.ordered_shackles", shackles)?;
    let length_m = cable.with_mark(shackles);
    if length_m < hawse_m {
        return Err(Problem {
            field: "choice.ordered_shackles".to_owned(),
            words: format!(
                "is {shackles}, which puts {length_m:.1} m outside the hawse: it does not reach \
                 the bottom, {hawse_m:.1} m below"
            ),
        });
    }
    let length = cable.length(length_m, hawse_m);
    let short = if length.fit.fits() {
        String::new()
    } else {
        format!("; short by {:.1} m aboard", length.fit.short_by_m)
    };
    Ok(Proposed {
        length,
        basis: Basis::Ordered,
        reason: format!("ordered, {shackles} at the gypsy{short}. For comparison: {why}"),
        wanted_m,
    })
}

pub(super) fn chain_of(cable: &InUse, proposed: &Proposed, hawse_m: f64) -> Hang {
    Hang {
        height: Metres(hawse_m),
        length: Metres(proposed.length.length_m),
        weight: cable.weight,
        stiffness: None,
    }
}

pub(super) fn hanging(
    cable: &Result<InUse, Problem>,
    depth: &Result<Depth, Problem>,
    pull: &Result<Pull, Problem>,
    proposed: &Result<Proposed, Problem>,
) -> Result<Hanging, Problem> {
    let (cable, depth) = (cable.as_ref()?, depth.as_ref()?);
    let (pull, proposed) = (pull.as_ref()?, proposed.as_ref()?);
    let chain = chain_of(cable, proposed, depth.hawse_greatest_m);
    let force = design(pull);
    let hung = hang(&chain, force)?;
    if hung.status == Status::TooShort {
        return Err(Problem {
            field: "cable.in_use.shackles_aboard".to_owned(),
            words: format!(
                "the {:.1} m that can be veered do not reach the bottom, {:.1} m below the hawse",
                chain.length.0, chain.height.0
            ),
        });
    }
    Ok(Hanging {
        length_m: chain.length.0,
        hawse_m: chain.height.0,
        status: hung.status,
        suspended_m: hung.suspended.0,
        grounded_m: hung.grounded.0,
        reach_m: hung.reach.0,
        tension_kilonewtons: Kilonewtons::from(hung.tension_at_hawse).0,
        angle_at_hawse_deg: hung.angle_at_hawse.0,
        angle_at_anchor_deg: hung.angle_at_anchor.0,
        lift_kilonewtons: Kilonewtons::from(lift_force(&chain)?).0,
        curve: shape(&chain, force, PIECES)?,
    })
}
