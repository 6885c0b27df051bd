//! Wind and current cases, and the densities they need.

use serde_json::{Map, Value};

use super::case::{Input, Output};
use super::{Field, Kinds, ReckonError, Sum, field};
use crate::load::{self, drag, dynamic_pressure, resultant};
use crate::units::{DegreesTrue, KilogramsPerCubicMetre, Knots, MetresPerSecond, SquareMetres};
use crate::{OutOfRange, density};

pub(super) const SUM: Sum = Sum {
    name: "wind_load",
    title: "Wind and current drag; density of air and of surface sea water",
    source: load::SOURCE,
    caution: load::CAUTION,
    kinds: &[
        Kinds {
            names: &["wind_kn", "wind_edge"],
            inputs: KNOTS_IN,
            outputs: KNOTS_OUT,
            compute: wind_kn,
        },
        Kinds {
            names: &["wind_ms"],
            inputs: MS_IN,
            outputs: MS_OUT,
            compute: wind_ms,
        },
        Kinds {
            names: &["air_density_dry"],
            inputs: AIR_IN,
            outputs: AIR_OUT,
            compute: air,
        },
        Kinds {
            names: &["sea_density"],
            inputs: SEA_IN,
            outputs: SEA_OUT,
            compute: sea,
        },
        Kinds {
            names: &["current"],
            inputs: CURRENT_IN,
            outputs: CURRENT_OUT,
            compute: current,
        },
        Kinds {
            names: &["combined"],
            inputs: COMBINED_IN,
            outputs: COMBINED_OUT,
            compute: combined,
        },
    ],
};

const KNOTS_IN: &[Field] = &[
    field("wind_kn", "kn"),
    field("area_m2", "m²"),
    field("cd", "drag coefficient"),
    field("air_density_kg_m3", "kg/m³"),
];
const KNOTS_OUT: &[Field] = &[
    field("wind_m_s", "m/s"),
    field("pressure_Pa", "Pa"),
    field("force_N", "N"),
];
const MS_IN: &[Field] = &[
    field("wind_m_s", "m/s"),
    field("area_m2", "m²"),
    field("cd", "drag coefficient"),
    field("air_density_kg_m3", "kg/m³"),
];
const MS_OUT: &[Field] = &[
    field("wind_kn", "kn"),
    field("pressure_Pa", "Pa"),
    field("force_N", "N"),
];
const AIR_IN: &[Field] = &[field("temperature_C", "°C"), field("pressure_hPa", "hPa")];
const AIR_OUT: &[Field] = &[field("density_kg_m3", "kg/m³")];
const SEA_IN: &[Field] = &[
    field("practical_salinity", "0 to 42"),
    field("temperature_C", "°C"),
    field("pressure_dbar", "0: surface water only"),
];
const SEA_OUT: &[Field] = &[
    field("density_teos10_kg_m3", "kg/m³"),
    field("density_eos80_kg_m3", "kg/m³"),
];
const CURRENT_IN: &[Field] = &[
    field("current_kn", "kn"),
    field("area_m2", "m²"),
    field("cd", "drag coefficient"),
    field("density_kg_m3", "kg/m³"),
];
const CURRENT_OUT: &[Field] = &[field("current_m_s", "m/s"), field("force_N", "N")];
const COMBINED_IN: &[Field] = &[
    field("wind_kn", "kn"),
    field("wind_from_deg", "degrees true, from"),
    field("wind_area_m2", "m²"),
    field("wind_cd", "drag coefficient"),
    field("air_density_kg_m3", "kg/m³"),
    field("current_kn", "kn"),
    field("current_toward_deg", "degrees true, toward"),
    field("current_area_m2", "m²"),
    field("current_cd", "drag coefficient"),
    field("sea_density_kg_m3", "kg/m³"),
];
const COMBINED_OUT: &[Field] = &[
    field("wind_force_N", "N"),
    field("current_force_N", "N"),
    field("resultant_N", "N"),
    field("resultant_toward_deg", "degrees true, none if they cancel"),
];

/// A stream and the body in it, by the names of their fields.
struct Names {
    density: &'static str,
    cd: &'static str,
    area: &'static str,
    speed: &'static str,
}

const AIR: Names = Names {
    density: "air_density_kg_m3",
    cd: "cd",
    area: "area_m2",
    speed: "wind_m_s",
};

/// Pressure and force of a stream, with errors that name the case's own fields.
fn push(
    input: &Input<'_>,
    names: &Names,
    speed: MetresPerSecond,
) -> Result<(f64, f64), ReckonError> {
    let rho = KilogramsPerCubicMetre(input.number(names.density)?);
    let cd = input.number(names.cd)?;
    let area = SquareMetres(input.number(names.area)?);
    let renamed = |error: OutOfRange| {
        let name = match error.field() {
            "density_kg_m3" => names.density,
            "cd" => names.cd,
            "area_m2" => names.area,
            _ => names.speed,
        };
        error.at(name)
    };
    let pressure = dynamic_pressure(rho, speed).map_err(renamed)?;
    let force = drag(rho, cd, area, speed).map_err(renamed)?;
    Ok((pressure.0, force.0))
}

fn knots(input: &Input<'_>, name: &'static str) -> Result<MetresPerSecond, ReckonError> {
    Ok(Knots(input.number(name)?).into())
}

fn wind_kn(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let speed = knots(input, "wind_kn")?;
    let names = Names {
        speed: "wind_kn",
        ..AIR
    };
    let (pressure, force) = push(input, &names, speed)?;
    Ok(Output::new()
        .numbers([
            ("wind_m_s", speed.0),
            ("pressure_Pa", pressure),
            ("force_N", force),
        ])?
        .done())
}

fn wind_ms(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let speed = MetresPerSecond(input.number("wind_m_s")?);
    let (pressure, force) = push(input, &AIR, speed)?;
    Ok(Output::new()
        .numbers([
            ("wind_kn", Knots::from(speed).0),
            ("pressure_Pa", pressure),
            ("force_N", force),
        ])?
        .done())
}

fn air(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let rho = density::dry_air(
        input.number("temperature_C")?,
        input.number("pressure_hPa")?,
    )?;
    Ok(Output::new().number("density_kg_m3", rho.0)?.done())
}

fn sea(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let pressure = input.optional("pressure_dbar")?.unwrap_or(0.0);
    if pressure != 0.0 {
        return Err(OutOfRange::outside("pressure_dbar", pressure, "0: surface water only").into());
    }
    let (s, t) = (
        input.number("practical_salinity")?,
        input.number("temperature_C")?,
    );
    Ok(Output::new()
        .numbers([
            ("density_teos10_kg_m3", density::teos10(s, t)?.0),
            ("density_eos80_kg_m3", density::eos80(s, t)?.0),
        ])?
        .done())
}

fn current(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let speed = knots(input, "current_kn")?;
    let names = Names {
        density: "density_kg_m3",
        speed: "current_kn",
        ..AIR
    };
    let (_, force) = push(input, &names, speed)?;
    Ok(Output::new()
        .numbers([("current_m_s", speed.0), ("force_N", force)])?
        .done())
}

fn combined(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let wind = Names {
        cd: "wind_cd",
        area: "wind_area_m2",
        speed: "wind_kn",
        ..AIR
    };
    let water = Names {
        density: "sea_density_kg_m3",
        cd: "current_cd",
        area: "current_area_m2",
        speed: "current_kn",
    };
    let (_, wind_n) = push(input, &wind, knots(input, "wind_kn")?)?;
    let (_, current_n) = push(input, &water, knots(input, "current_kn")?)?;
    let sum = resultant(
        crate::units::Newtons(wind_n),
        DegreesTrue(input.number("wind_from_deg")?),
        crate::units::Newtons(current_n),
        DegreesTrue(input.number("current_toward_deg")?),
    )?;
    let mut out = Output::new().numbers([
        ("wind_force_N", wind_n),
        ("current_force_N", current_n),
        ("resultant_N", sum.force.0),
    ])?;
    if let Some(toward) = sum.toward {
        out = out.number("resultant_toward_deg", toward.0)?;
    }
    Ok(out.done())
}
