//! Ventilation cases.

use serde_json::{Map, Value};

use super::case::{Input, Output};
use super::{Field, Kinds, ReckonError, Sum, field};
use crate::units::{CubicMetres, CubicMetresPerHour, Minutes};
use crate::ventilation::{self, Reached, Space};

pub(super) const SUM: Sum = Sum {
    name: "ventilation",
    title: "The air of a closed space while it is ventilated",
    source: ventilation::SOURCE,
    caution: ventilation::CAUTION,
    kinds: &[
        Kinds {
            names: &[
                "concentration_at_time",
                "with_generation",
                "oxygen_consumption",
                "edge_conc",
            ],
            inputs: AT_TIME,
            outputs: CONCENTRATION,
            compute: at_time,
        },
        Kinds {
            names: &["time_to_limit", "edge_time"],
            inputs: TO_LIMIT,
            outputs: REACHED,
            compute: to_limit,
        },
    ],
};

const AT_TIME: &[Field] = &[
    field("c0", "%, ppm or % LEL, the same for all"),
    field("c_in", "as c0"),
    field("volume_m3", "m³"),
    field("flow_m3_h", "m³/h"),
    field("mixing_factor_k", "1 and more"),
    field("generation_unit_m3_h", "unit of c0 times m³/h"),
    field("minutes", "min"),
];
const CONCENTRATION: &[Field] = &[
    field("concentration", "as c0"),
    field("steady_state", "as c0, none without a flow"),
    field("air_changes", "in the time given"),
];
const TO_LIMIT: &[Field] = &[
    field("c0", "%, ppm or % LEL, the same for all"),
    field("c_in", "as c0"),
    field("volume_m3", "m³"),
    field("flow_m3_h", "m³/h"),
    field("mixing_factor_k", "1 and more"),
    field("generation_unit_m3_h", "unit of c0 times m³/h"),
    field("limit", "as c0"),
];
const REACHED: &[Field] = &[
    field("reachable", "true or false"),
    field("minutes", "min, where it is reached"),
    field("reason", "text, where it is not"),
];

fn space(input: &Input<'_>) -> Result<Space, ReckonError> {
    Ok(Space {
        at_start: input.number("c0")?,
        of_supply: input.number("c_in")?,
        volume: CubicMetres(input.number("volume_m3")?),
        flow: CubicMetresPerHour(input.number("flow_m3_h")?),
        mixing_factor: input.number("mixing_factor_k")?,
        generation: input.number("generation_unit_m3_h")?,
    })
}

fn at_time(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let space = space(input)?;
    let minutes = Minutes(input.number("minutes")?);
    let mut out = Output::new().numbers([
        ("concentration", space.concentration_after(minutes)?),
        (
            "air_changes",
            space.air_changes_per_hour()? * minutes.0 / 60.0,
        ),
    ])?;
    if let Some(end) = space.steady_state()? {
        out = out.number("steady_state", end)?;
    }
    Ok(out.done())
}

fn to_limit(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let out = Output::new();
    Ok(match space(input)?.time_to(input.number("limit")?)? {
        Reached::After(time) => out.put("reachable", true).number("minutes", time.0)?,
        Reached::Never(why) => out.put("reachable", false).put("reason", why.reason()),
    }
    .done())
}
