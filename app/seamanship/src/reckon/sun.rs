//! Sun cases: rising and setting, twilight, and whether lights or shapes are due.

use serde_json::{Map, Value};

use super::case::{Input, Output};
use super::{Field, Kinds, ReckonError, Sum, field};
use crate::position::Position;
use crate::sun::{self, Passage, RISING, altitude, day};
use crate::time::UtcMs;

pub(super) const SUM: Sum = Sum {
    name: "sun",
    title: "Sunrise, sunset, civil twilight; lights or shapes",
    source: sun::SOURCE,
    caution: sun::CAUTION,
    kinds: &[
        Kinds {
            names: &["mediterranean", "elsewhere", "polar"],
            inputs: DAY_IN,
            outputs: DAY_OUT,
            compute: of_day,
        },
        Kinds {
            names: &["lights_or_shapes"],
            inputs: SHOW_IN,
            outputs: SHOW_OUT,
            compute: lights_or_shapes,
        },
    ],
};

const DAY_IN: &[Field] = &[
    field("lat", "degrees north"),
    field("lon", "degrees east"),
    field("date", "date, ISO 8601; from local mean midnight"),
];
const DAY_OUT: &[Field] = &[
    field("sunrise_utc", "UTC, ISO 8601, or null"),
    field("sunset_utc", "UTC, ISO 8601, or null"),
    field("state_sun", "rises_and_sets, always_above or always_below"),
    field("civil_dawn_utc", "UTC, ISO 8601, or null"),
    field("civil_dusk_utc", "UTC, ISO 8601, or null"),
    field(
        "state_civil",
        "rises_and_sets, always_above or always_below",
    ),
    field("max_altitude_deg", "degrees"),
    field("min_altitude_deg", "degrees"),
];
const SHOW_IN: &[Field] = &[
    field("lat", "degrees north"),
    field("lon", "degrees east"),
    field("time_utc", "UTC, ISO 8601"),
];
const SHOW_OUT: &[Field] = &[
    field("show", "lights or day_shapes"),
    field("sun_true_altitude_deg", "degrees, without refraction"),
];

fn place(input: &Input<'_>) -> Result<Position, ReckonError> {
    Position::new(input.number("lat")?, input.number("lon")?).map_err(|error| {
        let name = if error.field() == "latitude_deg" {
            "lat"
        } else {
            "lon"
        };
        error.at(name).into()
    })
}

fn moment(at: Option<UtcMs>) -> Value {
    at.map_or(Value::Null, |at| Value::String(at.to_iso()))
}

fn of_day(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let midnight = UtcMs::parse_date("date", input.text("date")?)?;
    let day = day(place(input)?, midnight)?;
    let put = |out: Output, names: [&'static str; 3], passage: Passage| {
        out.put(names[0], moment(passage.up))
            .put(names[1], moment(passage.down))
            .put(names[2], passage.state.name())
    };
    let out = put(
        Output::new(),
        ["sunrise_utc", "sunset_utc", "state_sun"],
        day.sun,
    );
    let out = put(
        out,
        ["civil_dawn_utc", "civil_dusk_utc", "state_civil"],
        day.civil,
    );
    Ok(out
        .numbers([
            ("max_altitude_deg", day.highest.0),
            ("min_altitude_deg", day.lowest.0),
        ])?
        .done())
}

fn lights_or_shapes(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let height = altitude(place(input)?, input.moment("time_utc")?)?;
    let show = if height < RISING {
        "lights"
    } else {
        "day_shapes"
    };
    Ok(Output::new()
        .put("show", show)
        .number("sun_true_altitude_deg", height.0)?
        .done())
}
