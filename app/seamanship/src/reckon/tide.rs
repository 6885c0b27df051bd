//! Tide cases: between high and low water, and harmonic.

use serde_json::{Map, Value};

use super::case::{Input, Output};
use super::{Field, Kinds, ReckonError, Sum, field};
use crate::OutOfRange;
use crate::tide::harmonic::{Constituent, Factor, STATIONS, Station};
use crate::tide::{self, Extreme, Interval};
use crate::time::UtcMs;
use crate::units::Metres;

pub(super) const SUM: Sum = Sum {
    name: "tide",
    title: "Height of tide between high and low water, depth at the hawse, harmonic heights",
    source: tide::SOURCE,
    caution: tide::CAUTION,
    kinds: &[
        Kinds {
            names: &[
                "height",
                "sixth_boundaries",
                "equal_heights",
                "outside_interval",
            ],
            inputs: HEIGHT_IN,
            outputs: HEIGHT_OUT,
            compute: height,
        },
        Kinds {
            names: &["time_of_height"],
            inputs: TIME_IN,
            outputs: TIME_OUT,
            compute: time_of_height,
        },
        Kinds {
            names: &["depth_at_hawse"],
            inputs: DEPTH_IN,
            outputs: DEPTH_OUT,
            compute: depth_at_hawse,
        },
        Kinds {
            names: &["harmonic"],
            inputs: HARMONIC_IN,
            outputs: HARMONIC_OUT,
            compute: harmonic,
        },
        Kinds {
            names: &["harmonic_sum"],
            inputs: SUM_IN,
            outputs: SUM_OUT,
            compute: harmonic_sum,
        },
    ],
};

const HEIGHT_IN: &[Field] = &[
    field("t_from_utc", "UTC, ISO 8601"),
    field("h_from_m", "m above chart datum"),
    field("t_to_utc", "UTC, ISO 8601"),
    field("h_to_m", "m above chart datum"),
    field("t_utc", "UTC, ISO 8601"),
];
const HEIGHT_OUT: &[Field] = &[
    field("height_twelfths_m", "m above chart datum"),
    field("height_cosine_m", "m above chart datum"),
];
const TIME_IN: &[Field] = &[
    field("t_from_utc", "UTC, ISO 8601"),
    field("h_from_m", "m above chart datum"),
    field("t_to_utc", "UTC, ISO 8601"),
    field("h_to_m", "m above chart datum"),
    field("height_m", "m above chart datum"),
];
const TIME_OUT: &[Field] = &[
    field("seconds_after_from_cosine", "s"),
    field("seconds_after_from_twelfths", "s"),
];
const DEPTH_IN: &[Field] = &[
    field("t_from_utc", "UTC, ISO 8601"),
    field("h_from_m", "m above chart datum"),
    field("t_to_utc", "UTC, ISO 8601"),
    field("h_to_m", "m above chart datum"),
    field("t_utc", "UTC, ISO 8601"),
    field("charted_depth_m", "m below chart datum"),
    field("hawse_height_above_water_m", "m"),
    field("draught_m", "m"),
];
const DEPTH_OUT: &[Field] = &[
    field("water_depth_cosine_m", "m"),
    field("depth_from_hawse_cosine_m", "m"),
    field("under_keel_now_m", "m"),
    field("under_keel_least_in_interval_m", "m"),
    field("depth_from_hawse_greatest_in_interval_m", "m"),
];
const HARMONIC_IN: &[Field] = &[
    field("station_id", "identity of the station"),
    field("t_utc", "UTC, ISO 8601"),
];
const HARMONIC_OUT: &[Field] = &[
    field("height_above_mllw_m", "m above mean lower low water"),
    field("height_above_msl_m", "m above mean sea level"),
];
const SUM_IN: &[Field] = &[
    field("station_id", "identity of the station"),
    field("factors", "list of {name, f, V_plus_u_deg}"),
];
const SUM_OUT: &[Field] = &[field("height_above_msl_m", "m above mean sea level")];

fn interval(input: &Input<'_>) -> Result<Interval, ReckonError> {
    let extreme = |at, height| -> Result<Extreme, ReckonError> {
        Ok(Extreme {
            at: input.moment(at)?,
            height: Metres(input.number(height)?),
        })
    };
    let from = extreme("t_from_utc", "h_from_m")?;
    let to = extreme("t_to_utc", "h_to_m")?;
    if to.at <= from.at {
        return Err(ReckonError::IntervalReversed);
    }
    Ok(Interval::new(from, to)?)
}

/// The moment asked for, which must lie in the interval.
fn moment_in(interval: &Interval, input: &Input<'_>) -> Result<UtcMs, ReckonError> {
    let at = input.moment("t_utc")?;
    if at < interval.from.at || interval.to.at < at {
        return Err(ReckonError::OutsideInterval);
    }
    Ok(at)
}

fn height(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let interval = interval(input)?;
    let at = moment_in(&interval, input)?;
    Ok(Output::new()
        .numbers([
            ("height_twelfths_m", interval.height_twelfths(at)?.0),
            ("height_cosine_m", interval.height_cosine(at)?.0),
        ])?
        .done())
}

fn time_of_height(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let interval = interval(input)?;
    let height = Metres(input.number("height_m")?);
    Ok(Output::new()
        .numbers([
            (
                "seconds_after_from_cosine",
                interval.seconds_to_cosine(height)?,
            ),
            (
                "seconds_after_from_twelfths",
                interval.seconds_to_twelfths(height)?,
            ),
        ])?
        .done())
}

fn depth_at_hawse(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let interval = interval(input)?;
    let at = moment_in(&interval, input)?;
    let charted = crate::error::finite("charted_depth_m", input.number("charted_depth_m")?)?;
    let hawse = crate::error::at_least_zero(
        "hawse_height_above_water_m",
        input.number("hawse_height_above_water_m")?,
    )?;
    let draught = crate::error::at_least_zero("draught_m", input.number("draught_m")?)?;
    let water = charted + interval.height_cosine(at)?.0;
    let (from, to) = (interval.from.height.0, interval.to.height.0);
    Ok(Output::new()
        .numbers([
            ("water_depth_cosine_m", water),
            ("depth_from_hawse_cosine_m", water + hawse),
            ("under_keel_now_m", water - draught),
            (
                "under_keel_least_in_interval_m",
                charted + from.min(to) - draught,
            ),
            (
                "depth_from_hawse_greatest_in_interval_m",
                charted + from.max(to) + hawse,
            ),
        ])?
        .done())
}

fn station(input: &Input<'_>) -> Result<&'static Station, ReckonError> {
    let id = input.text("station_id")?;
    Station::find(id).ok_or_else(|| ReckonError::UnknownName {
        field: "station_id",
        value: id.to_owned(),
        known: STATIONS
            .iter()
            .map(|station| station.id)
            .collect::<Vec<_>>()
            .join(", "),
    })
}

fn harmonic(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let station = station(input)?;
    let at = input.moment("t_utc")?;
    Ok(Output::new()
        .numbers([
            ("height_above_mllw_m", station.height_above_datum(at)?.0),
            ("height_above_msl_m", station.height_above_mean(at)?.0),
        ])?
        .done())
}

fn harmonic_sum(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let station = station(input)?;
    let factors = input
        .objects("factors")?
        .iter()
        .map(|item| {
            let name = item.text("name")?;
            Ok(Factor {
                constituent: Constituent::from_name(name).ok_or_else(|| {
                    OutOfRange::no_answer("factors.name", format!("no constituent {name:?}"))
                })?,
                f: item.number("f")?,
                v_plus_u_deg: item.number("V_plus_u_deg")?,
            })
        })
        .collect::<Result<Vec<_>, ReckonError>>()?;
    Ok(Output::new()
        .number("height_above_msl_m", station.sum(&factors)?.0)?
        .done())
}
