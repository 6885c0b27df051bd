//! Fire-main, hose and nozzle cases.

use serde_json::{Map, Value};

use super::case::{Input, Output};
use super::{Field, Kinds, ReckonError, Sum, field};
use crate::units::{KilogramsPerCubicMetre, LitresPerMinute, Metres, Pascals, STANDARD_GRAVITY};
use crate::water::{
    self, Liquid, Main, Nozzle, Pipe, hazen_williams, pipe_loss, run_main, static_head,
};

pub(super) const SUM: Sum = Sum {
    name: "hydraulics",
    title: "Fire main, hose and nozzle",
    source: water::SOURCE,
    caution: water::CAUTION,
    kinds: &[
        Kinds {
            names: &["pipe_darcy", "hose_darcy", "edge_darcy"],
            inputs: DARCY_IN,
            outputs: DARCY_OUT,
            compute: darcy,
        },
        Kinds {
            names: &["hazen_williams"],
            inputs: HAZEN_IN,
            outputs: HAZEN_OUT,
            compute: hazen,
        },
        Kinds {
            names: &["nozzle"],
            inputs: NOZZLE_IN,
            outputs: NOZZLE_OUT,
            compute: nozzle,
        },
        Kinds {
            names: &["static_head"],
            inputs: HEAD_IN,
            outputs: HEAD_OUT,
            compute: head,
        },
        Kinds {
            names: &["system"],
            inputs: SYSTEM_IN,
            outputs: SYSTEM_OUT,
            compute: system,
        },
        Kinds {
            names: &["system_no_flow"],
            inputs: NO_FLOW_IN,
            outputs: NO_FLOW_OUT,
            compute: no_flow,
        },
    ],
};

const DARCY_IN: &[Field] = &[
    field("diameter_m", "m"),
    field("length_m", "m"),
    field("roughness_m", "m"),
    field("flow_l_min", "l/min"),
    field("minor_loss_k", "sum of loss coefficients"),
    field("density_kg_m3", "kg/m³"),
    field("viscosity_Pa_s", "Pa s"),
];
const DARCY_OUT: &[Field] = &[
    field("velocity_m_s", "m/s"),
    field("reynolds", "number"),
    field("darcy_f", "number, 0 without a flow"),
    field("dp_friction_Pa", "Pa"),
    field("dp_minor_Pa", "Pa"),
    field("dp_total_Pa", "Pa"),
    field("head_loss_m", "m"),
];
const HAZEN_IN: &[Field] = &[
    field("diameter_m", "m"),
    field("length_m", "m"),
    field("hazen_williams_c", "50 to 160"),
    field("flow_l_min", "l/min"),
    field("density_kg_m3", "kg/m³"),
];
const HAZEN_OUT: &[Field] = &[field("head_loss_m", "m"), field("dp_Pa", "Pa")];
const NOZZLE_IN: &[Field] = &[
    field("nozzle_diameter_m", "m"),
    field("pressure_MPa", "MPa"),
    field("cd", "above 0 up to 1"),
    field("density_kg_m3", "kg/m³"),
];
const NOZZLE_OUT: &[Field] = &[
    field("flow_l_min", "l/min"),
    field("flow_m3_h", "m³/h"),
    field("jet_velocity_m_s", "m/s"),
    field("reaction_N", "N"),
];
const HEAD_IN: &[Field] = &[field("height_m", "m"), field("density_kg_m3", "kg/m³")];
const HEAD_OUT: &[Field] = &[field("pressure_Pa", "Pa"), field("pressure_bar", "bar")];
const SYSTEM_IN: &[Field] = &[
    field("pump_pressure_Pa", "Pa"),
    field("pipe", "{diameter_m, length_m, roughness_m, minor_loss_k}"),
    field("hose", "{diameter_m, length_m, roughness_m, minor_loss_k}"),
    field("nozzle_diameter_m", "m"),
    field("cd", "above 0 up to 1"),
    field("rise_m", "m"),
    field("density_kg_m3", "kg/m³"),
    field("viscosity_Pa_s", "Pa s"),
];
const SYSTEM_OUT: &[Field] = &[
    field("flow_l_min", "l/min"),
    field("dp_pipe_Pa", "Pa"),
    field("dp_hose_Pa", "Pa"),
    field("dp_static_Pa", "Pa"),
    field("hydrant_pressure_Pa", "Pa"),
    field("nozzle_pressure_Pa", "Pa"),
];
const NO_FLOW_IN: &[Field] = &[
    field("pump_pressure_Pa", "Pa"),
    field("rise_m", "m"),
    field("density_kg_m3", "kg/m³"),
];
const NO_FLOW_OUT: &[Field] = &[
    field("flow_l_min", "l/min"),
    field("reason", "text"),
    field("hydrant_pressure_Pa", "Pa"),
];

fn density(input: &Input<'_>) -> Result<KilogramsPerCubicMetre, ReckonError> {
    Ok(KilogramsPerCubicMetre(input.number("density_kg_m3")?))
}

fn liquid(input: &Input<'_>) -> Result<Liquid, ReckonError> {
    Ok(Liquid {
        density: density(input)?,
        viscosity_pa_s: input.number("viscosity_Pa_s")?,
    })
}

fn pipe(input: &Input<'_>) -> Result<Pipe, ReckonError> {
    Ok(Pipe {
        diameter: Metres(input.number("diameter_m")?),
        length: Metres(input.number("length_m")?),
        roughness: Metres(input.number("roughness_m")?),
        minor_loss_k: input.number("minor_loss_k")?,
    })
}

fn flow(input: &Input<'_>) -> Result<LitresPerMinute, ReckonError> {
    Ok(LitresPerMinute(input.number("flow_l_min")?))
}

fn darcy(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let loss = pipe_loss(&pipe(input)?, &liquid(input)?, flow(input)?)?;
    Ok(Output::new()
        .numbers([
            ("velocity_m_s", loss.velocity.0),
            ("reynolds", loss.reynolds),
            ("darcy_f", loss.darcy_f),
            ("dp_friction_Pa", loss.friction.0),
            ("dp_minor_Pa", loss.minor.0),
            ("dp_total_Pa", loss.total.0),
            ("head_loss_m", loss.head.0),
        ])?
        .done())
}

fn hazen(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let head = hazen_williams(
        Metres(input.number("diameter_m")?),
        Metres(input.number("length_m")?),
        input.number("hazen_williams_c")?,
        flow(input)?,
    )?;
    Ok(Output::new()
        .numbers([
            ("head_loss_m", head.0),
            ("dp_Pa", static_head(head, density(input)?)?.0),
        ])?
        .done())
}

fn nozzle_of(input: &Input<'_>) -> Result<Nozzle, ReckonError> {
    Ok(Nozzle {
        diameter: Metres(input.number("nozzle_diameter_m")?),
        cd: input.number("cd")?,
    })
}

fn nozzle(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let pressure = Pascals(input.number("pressure_MPa")? * 1e6);
    let jet = nozzle_of(input)?.jet(pressure, density(input)?)?;
    Ok(Output::new()
        .numbers([
            ("flow_l_min", jet.flow.0),
            ("flow_m3_h", jet.flow.0 * 0.06),
            ("jet_velocity_m_s", jet.velocity.0),
            ("reaction_N", jet.reaction.0),
        ])?
        .done())
}

fn head(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let pressure = static_head(Metres(input.number("height_m")?), density(input)?)?;
    Ok(Output::new()
        .numbers([
            ("pressure_Pa", pressure.0),
            ("pressure_bar", pressure.0 / 1e5),
        ])?
        .done())
}

fn system(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let running = run_main(&Main {
        pump: Pascals(input.number("pump_pressure_Pa")?),
        rise: Metres(input.number("rise_m")?),
        pipe: pipe(&input.object("pipe")?)?,
        hose: pipe(&input.object("hose")?)?,
        nozzle: nozzle_of(input)?,
        liquid: liquid(input)?,
    })?;
    if running.flow.0 <= 0.0 {
        return without_flow(running.at_hydrant);
    }
    Ok(Output::new()
        .numbers([
            ("flow_l_min", running.flow.0),
            ("dp_pipe_Pa", running.in_pipe.0),
            ("dp_hose_Pa", running.in_hose.0),
            ("dp_static_Pa", running.in_height.0),
            ("hydrant_pressure_Pa", running.at_hydrant.0),
            ("nozzle_pressure_Pa", running.at_nozzle.0),
        ])?
        .done())
}

fn without_flow(at_hydrant: Pascals) -> Result<Map<String, Value>, ReckonError> {
    Ok(Output::new()
        .number("flow_l_min", 0.0)?
        .put("reason", "static head exceeds pump pressure")
        .number("hydrant_pressure_Pa", at_hydrant.0)?
        .done())
}

fn no_flow(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let density = density(input)?;
    let rise = Metres(input.number("rise_m")?);
    let pump = crate::error::at_least_zero("pump_pressure_Pa", input.number("pump_pressure_Pa")?)?;
    let at_hydrant = pump - static_head(rise, density)?.0;
    if at_hydrant > 0.0 {
        return Err(crate::OutOfRange::outside(
            "rise_m",
            rise.0,
            format!(
                "at least {} m, or water flows",
                pump / (density.0 * STANDARD_GRAVITY)
            ),
        )
        .into());
    }
    without_flow(Pascals(at_hydrant))
}
