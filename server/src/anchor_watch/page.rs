//! The watch's page, reckoned.

use super::drift::Drift;
use super::keeper::{Keeper, e7};
use super::plot::Plot;
use journal::watch::{InputLine, WatchPage};
use seamanship::nmea::Quality;
use seamanship::watch::{Glance, Place};

fn tenth(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// Makes the page of a moment.
pub fn page(keeper: &Keeper, glance: &Glance, now_ms: i64) -> WatchPage {
    let (known, on, desk) = (keeper.known(), keeper.on_record(), keeper.desk());
    let setup = &known.setup;
    let no_dangers: &[(String, Place)] = &[];
    let is_on = on.begun.is_some();
    let (plot, plot_m) = Plot {
        glance,
        length_m: setup.length_m,
        trail: keeper.trail(),
        dangers: if is_on { &known.dangers } else { no_dangers },
        now_ms,
    }
    .draw();
    let whole = |value: Option<f64>| value.map(f64::round);
    let under_keel = glance.depth_m.zip(setup.draught_m);
    let limits = setup.wind_limits_kn;
    let inputs = glance.inputs.iter().map(|input| InputLine {
        name: input.name.to_owned(),
        source: input
            .heard
            .map(|(source, _)| desk.instruments.name(usize::from(source)).to_owned())
            .unwrap_or_default(),
        age_s: input.heard.map(|(_, last_ms)| {
            u32::try_from((now_ms - last_ms).max(0) / 1000).unwrap_or(u32::MAX)
        }),
    });
    let drift = Drift::of(keeper.trail(), &known.dangers, now_ms);
    WatchPage {
        now_ms,
        has_inputs: !desk.instruments.is_empty(),
        replay: desk.instruments.rate(),
        since_ms: on.begun.as_ref().map(|(_, at_ms, _)| *at_ms),
        keeper: on
            .keeper
            .as_ref()
            .map(|(by, at_ms)| (keeper.name_of(by), *at_ms)),
        alarms: keeper.alarm_lines(now_ms),
        distance_m: whole(glance.distance_m.filter(|_| is_on)),
        allowed_m: whole(glance.allowed_m.filter(|_| is_on)),
        is_antenna: !glance.is_hawse,
        cable_m: setup.cable_m.map(tenth),
        lead: known.lead.clone(),
        wind_kn: glance.wind_kn.map(|wind| wind.map(tenth)),
        wind_limits_kn: [limits.call, limits.engines, limits.weigh],
        depth_m: [
            glance.depth_m.map(tenth),
            under_keel.map(|(depth, draught)| tenth(depth - draught)),
            setup.ukc_min_m,
        ],
        expected_depth_m: setup.depth_m.map(tenth),
        heading_deg: whole(glance.heading_deg),
        drift_kn: drift.kn.map(tenth),
        danger: drift
            .danger
            .filter(|_| is_on)
            .map(|(name, metres, minutes)| (name, metres.round(), whole(minutes))),
        weigh_min: whole(known.weigh_min),
        bearings_due_ms: known.bearings_due_ms,
        quality: quality(glance),
        inputs: inputs.collect(),
        here_e7: glance.place.map(e7),
        ways: [desk.ways.horn.is_some(), desk.ways.out.is_some()],
        missing: known.missing.clone(),
        plot,
        plot_m,
    }
}

fn quality(glance: &Glance) -> String {
    let how = match (glance.place, glance.quality) {
        (None, _) => return String::new(),
        (_, Quality::Differential) => "differential",
        (_, Quality::Alone) => "satellites alone",
    };
    match glance.hdop {
        Some(hdop) => format!("{how}, HDOP {hdop:.1}"),
        None => format!("{how}, HDOP not told"),
    }
}
