//! Catenary cases.

use serde_json::{Map, Value};

use super::case::{Input, Output};
use super::{Field, Kinds, ReckonError, Sum, field};
use crate::catenary::{self, Hang, Hung, Pulled, Status, force_at_distance, hang};
use crate::units::{Metres, Newtons, NewtonsPerMetre};

pub(super) const SUM: Sum = Sum {
    name: "catenary",
    title: "An anchor chain on a level seabed: how it hangs, and the force in it",
    source: catenary::SOURCE,
    caution: catenary::CAUTION,
    kinds: &[
        Kinds {
            names: &[
                "inelastic_lifted",
                "inelastic_grounded",
                "elastic_lifted",
                "elastic_grounded",
                "zero_force",
                "tiny_force",
                "huge_force",
                "at_lift_off",
                "near_lift_off",
                "near_vertical",
                "too_short",
            ],
            inputs: FORWARD,
            outputs: HANGS,
            compute: forward,
        },
        Kinds {
            names: &["inverse_X_to_H", "inverse_limits"],
            inputs: INVERSE,
            outputs: PULLS,
            compute: inverse,
        },
    ],
};

const FORWARD: &[Field] = &[
    field("depth_hawse_m", "m"),
    field("chain_length_m", "m"),
    field("w_N_per_m", "N/m"),
    field("H_N", "N"),
    field("EA_N", "N or null for a chain that does not stretch"),
];

const HANGS: &[Field] = &[
    field("status", "vertical, grounded, lifted or too_short"),
    field("suspended_m", "m"),
    field("grounded_m", "m"),
    field("horizontal_distance_m", "m"),
    field("horizontal_distance_max_m", "m, where nothing pulls"),
    field("V_hawse_N", "N"),
    field("V_anchor_N", "N"),
    field("tension_hawse_N", "N"),
    field("tension_anchor_N", "N"),
    field("angle_hawse_deg", "degrees above the level"),
    field("angle_anchor_deg", "degrees above the level"),
    field("min_length_for_zero_uplift_m", "m"),
];

const INVERSE: &[Field] = &[
    field("depth_hawse_m", "m"),
    field("chain_length_m", "m"),
    field("w_N_per_m", "N/m"),
    field("horizontal_distance_m", "m"),
];

const PULLS: &[Field] = &[
    field("status", "grounded, lifted, slack or impossible_inelastic"),
    field("H_N", "N"),
    field("tension_hawse_N", "N"),
    field("suspended_m", "m"),
    field("grounded_m", "m"),
    field("angle_hawse_deg", "degrees above the level"),
    field("angle_anchor_deg", "degrees above the level"),
];

fn chain(input: &Input<'_>) -> Result<Hang, ReckonError> {
    Ok(Hang {
        height: Metres(input.number("depth_hawse_m")?),
        length: Metres(input.number("chain_length_m")?),
        weight: NewtonsPerMetre(input.number("w_N_per_m")?),
        stiffness: input.optional("EA_N")?.map(Newtons),
    })
}

fn forward(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let hung = hang(&chain(input)?, Newtons(input.number("H_N")?))?;
    let out = Output::new().put("status", hung.status.name());
    if hung.status == Status::TooShort {
        return Ok(out.done());
    }
    let out = forces(out, &hung)?;
    let out = if hung.status == Status::Vertical {
        out.number("horizontal_distance_max_m", hung.reach.0)?
    } else {
        out.numbers([
            ("horizontal_distance_m", hung.reach.0),
            ("angle_anchor_deg", hung.angle_at_anchor.0),
        ])?
    };
    Ok(out.done())
}

fn forces(out: Output, hung: &Hung) -> Result<Output, ReckonError> {
    out.numbers([
        ("suspended_m", hung.suspended.0),
        ("grounded_m", hung.grounded.0),
        ("V_hawse_N", hung.vertical_at_hawse.0),
        ("V_anchor_N", hung.vertical_at_anchor.0),
        ("tension_hawse_N", hung.tension_at_hawse.0),
        ("tension_anchor_N", hung.tension_at_anchor.0),
        ("angle_hawse_deg", hung.angle_at_hawse.0),
        ("min_length_for_zero_uplift_m", hung.least_length.0),
    ])
}

fn inverse(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let reach = Metres(input.number("horizontal_distance_m")?);
    let out = Output::new();
    Ok(match force_at_distance(&chain(input)?, reach)? {
        Pulled::Slack => out.put("status", "slack").number("H_N", 0.0)?,
        Pulled::Impossible => out.put("status", "impossible_inelastic"),
        Pulled::Taut { pull, hung } => out.put("status", hung.status.name()).numbers([
            ("H_N", pull.0),
            ("tension_hawse_N", hung.tension_at_hawse.0),
            ("suspended_m", hung.suspended.0),
            ("grounded_m", hung.grounded.0),
            ("angle_hawse_deg", hung.angle_at_hawse.0),
            ("angle_anchor_deg", hung.angle_at_anchor.0),
        ])?,
    }
    .done())
}
