//! Geodesic cases: lines, the anchor's place, the watch circle.

use serde_json::{Map, Value};

use super::case::{Input, Output};
use super::{Field, Kinds, ReckonError, Sum, field};
use crate::position::{self, Fix, Position, place_at, watch_circle, way};
use crate::units::{DegreesTrue, Metres, normal_degrees};

pub(super) const SUM: Sum = Sum {
    name: "geodesic",
    title: "Distances, bearings and places on WGS 84; the anchor's place and the watch circle",
    source: position::SOURCE,
    caution: position::CAUTION,
    kinds: &[
        Kinds {
            names: &["direct", "antimeridian_direct", "polar_direct"],
            inputs: DIRECT_IN,
            outputs: DIRECT_OUT,
            compute: direct,
        },
        Kinds {
            names: &["inverse", "antimeridian_inverse", "coincident"],
            inputs: INVERSE_IN,
            outputs: INVERSE_OUT,
            compute: inverse,
        },
        Kinds {
            names: &["anchor_position"],
            inputs: ANCHOR_IN,
            outputs: ANCHOR_OUT,
            compute: anchor_position,
        },
        Kinds {
            names: &["watch_circle"],
            inputs: WATCH_IN,
            outputs: WATCH_OUT,
            compute: watch,
        },
    ],
};

const DIRECT_IN: &[Field] = &[
    field("lat", "degrees north"),
    field("lon", "degrees east"),
    field("azimuth_deg", "degrees true"),
    field("distance_m", "m"),
];
const DIRECT_OUT: &[Field] = &[
    field("lat", "degrees north"),
    field("lon", "degrees east, -180 up to 180"),
    field("azimuth_end_deg", "degrees true"),
];
const INVERSE_IN: &[Field] = &[
    field("lat1", "degrees north"),
    field("lon1", "degrees east"),
    field("lat2", "degrees north"),
    field("lon2", "degrees east"),
];
const INVERSE_OUT: &[Field] = &[
    field("distance_m", "m"),
    field("azimuth_deg", "degrees true, none between like places"),
    field("azimuth_end_deg", "degrees true, none between like places"),
];
const ANCHOR_IN: &[Field] = &[
    field("antenna_lat", "degrees north"),
    field("antenna_lon", "degrees east"),
    field("heading_true_deg", "degrees true"),
    field("bow_forward_of_antenna_m", "m"),
    field("bow_starboard_of_antenna_m", "m"),
    field(
        "chain_relative_bearing_deg",
        "degrees from ahead, clockwise",
    ),
    field("chain_horizontal_m", "m"),
];
const ANCHOR_OUT: &[Field] = &[
    field("bow_lat", "degrees north"),
    field("bow_lon", "degrees east"),
    field("chain_bearing_deg", "degrees true"),
    field("anchor_lat", "degrees north"),
    field("anchor_lon", "degrees east"),
    field("antenna_to_anchor_m", "m"),
    field("antenna_to_anchor_bearing_deg", "degrees true"),
];
const WATCH_IN: &[Field] = &[
    field("anchor_lat", "degrees north"),
    field("anchor_lon", "degrees east"),
    field("chain_horizontal_m", "m"),
    field("bow_forward_of_antenna_m", "m"),
    field("antenna_to_stern_m", "m"),
    field("margin_m", "m"),
    field("fix_lat", "degrees north"),
    field("fix_lon", "degrees east"),
];
const WATCH_OUT: &[Field] = &[
    field("antenna_radius_m", "m"),
    field("stern_swing_radius_m", "m"),
    field("fix_distance_m", "m"),
    field("fix_bearing_from_anchor_deg", "degrees true"),
    field("outside", "true or false"),
];

fn place(
    input: &Input<'_>,
    latitude: &'static str,
    longitude: &'static str,
) -> Result<Position, ReckonError> {
    let (lat, lon) = (input.number(latitude)?, input.number(longitude)?);
    Position::new(lat, lon).map_err(|error| {
        let name = if error.field() == "latitude_deg" {
            latitude
        } else {
            longitude
        };
        error.at(name).into()
    })
}

fn direct(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let (to, end) = place_at(
        place(input, "lat", "lon")?,
        DegreesTrue(input.number("azimuth_deg")?),
        Metres(input.number("distance_m")?),
    )?;
    Ok(Output::new()
        .numbers([
            ("lat", to.latitude_deg),
            ("lon", to.longitude_deg),
            ("azimuth_end_deg", end.0),
        ])?
        .done())
}

fn inverse(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let way = way(place(input, "lat1", "lon1")?, place(input, "lat2", "lon2")?)?;
    let mut out = Output::new().number("distance_m", way.distance.0)?;
    if let Some(bearings) = way.bearings {
        out = out.numbers([
            ("azimuth_deg", bearings.start.0),
            ("azimuth_end_deg", bearings.end.0),
        ])?;
    }
    Ok(out.done())
}

fn anchor_position(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let fix = Fix {
        antenna: place(input, "antenna_lat", "antenna_lon")?,
        heading: DegreesTrue(input.number("heading_true_deg")?),
        bow_forward: Metres(input.number("bow_forward_of_antenna_m")?),
        bow_starboard: Metres(input.number("bow_starboard_of_antenna_m")?),
    };
    let lead = normal_degrees(fix.heading.0 + input.number("chain_relative_bearing_deg")?);
    let bow = fix.bow()?;
    let anchor = fix.anchor(
        DegreesTrue(lead),
        Metres(input.number("chain_horizontal_m")?),
    )?;
    let way = way(fix.antenna, anchor)?;
    let mut out = Output::new().numbers([
        ("bow_lat", bow.latitude_deg),
        ("bow_lon", bow.longitude_deg),
        ("chain_bearing_deg", lead),
        ("anchor_lat", anchor.latitude_deg),
        ("anchor_lon", anchor.longitude_deg),
        ("antenna_to_anchor_m", way.distance.0),
    ])?;
    if let Some(bearings) = way.bearings {
        out = out.number("antenna_to_anchor_bearing_deg", bearings.start.0)?;
    }
    Ok(out.done())
}

fn watch(input: &Input<'_>) -> Result<Map<String, Value>, ReckonError> {
    let circle = watch_circle(
        Metres(input.number("chain_horizontal_m")?),
        Metres(input.number("bow_forward_of_antenna_m")?),
        Metres(input.number("antenna_to_stern_m")?),
        Metres(input.number("margin_m")?),
    )?;
    let way = way(
        place(input, "anchor_lat", "anchor_lon")?,
        place(input, "fix_lat", "fix_lon")?,
    )?;
    let mut out = Output::new()
        .numbers([
            ("antenna_radius_m", circle.antenna_radius.0),
            ("stern_swing_radius_m", circle.stern_radius.0),
            ("fix_distance_m", way.distance.0),
        ])?
        .put("outside", way.distance > circle.antenna_radius);
    if let Some(bearings) = way.bearings {
        out = out.number("fix_bearing_from_anchor_deg", bearings.start.0)?;
    }
    Ok(out.done())
}
