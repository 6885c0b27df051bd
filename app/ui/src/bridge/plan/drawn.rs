//! A plan's results as the drawings and lines want them.

use super::draft::Worked;
use super::order;
use crate::parts::{Danger, Swinging};
use crate::time;
use crate::words::{Word, plan as words};
use seamanship::plan::{Method, Speeds};
use seamanship::signals::Signals;
use seamanship::sun::{Day, Passage, SunState};
use seamanship::time::UtcMs;

const HOUR_MS: i64 = 3_600_000;

#[expect(clippy::cast_precision_loss, reason = "a stay is days long")]
fn hours(from: UtcMs, at_ms: i64) -> f64 {
    at_ms.saturating_sub(from.0) as f64 / HOUR_MS as f64
}

/// Returns the cable's curve; empty without one.
pub fn cable(work: &Worked) -> Vec<(f64, f64)> {
    let hanging = work.output.hanging.result.as_ref();
    let points = hanging.map_or(&[][..], |hanging| &hanging.curve);
    points
        .iter()
        .map(|point| (point.along_m, point.up_m))
        .collect()
}

/// Returns the depth over the stay, hours from its beginning.
pub fn depths(work: &Worked) -> Vec<(f64, f64)> {
    let from = work.input.stay.from_utc_ms;
    let depth = work.output.depth.result.as_ref();
    let series = depth.map_or(&[][..], |depth| &depth.series);
    series
        .iter()
        .map(|point| (hours(from, point.at_utc_ms.0), point.water_m))
        .collect()
}

/// Returns the draught with what the waves add to it.
pub fn draught_m(work: &Worked) -> f64 {
    let depth = work.output.depth.result.as_ref().ok();
    depth
        .and_then(|depth| depth.series.first())
        .map_or(f64::NAN, |point| point.water_m - point.under_keel_m)
}

/// Returns whole hours of the stay to write below the depth: at most seven.
pub fn times(work: &Worked) -> Vec<(f64, String)> {
    let (from, to) = (work.input.stay.from_utc_ms, work.input.stay.to_utc_ms);
    if work.output.depth.result.is_err() {
        return Vec::new();
    }
    let span = to.0.saturating_sub(from.0);
    let step = [1, 2, 3, 6, 12, 24, 48, 96]
        .into_iter()
        .map(|step| step * HOUR_MS)
        .find(|step| span / step <= 6)
        .unwrap_or(240 * HOUR_MS);
    let first = from
        .0
        .div_euclid(step)
        .saturating_add(1)
        .saturating_mul(step);
    let first = if from.0.rem_euclid(step) == 0 {
        from.0
    } else {
        first
    };
    (0_i64..8)
        .map(|n| first.saturating_add(n * step))
        .take_while(|at| *at <= to.0)
        .map(|at| {
            let said = if step < 24 * HOUR_MS {
                time::clock(at)
            } else {
                time::day(at)
            };
            (hours(from, at), said)
        })
        .collect()
}

/// Returns the swinging circle; what is deep enough is not drawn as a danger.
pub fn swinging(work: &Worked) -> Swinging {
    let output = &work.output;
    let Ok(room) = &output.room.result else {
        return Swinging::default();
    };
    let toward = output
        .pull
        .result
        .as_ref()
        .ok()
        .and_then(|pull| pull.toward_deg);
    let reach = output
        .hanging
        .result
        .as_ref()
        .ok()
        .map(|hanging| hanging.reach_m);
    let bow = toward.zip(reach).map(|(toward, reach)| {
        let (east, north) = toward.to_radians().sin_cos();
        (reach * east, reach * north)
    });
    let dangers = room
        .dangers
        .iter()
        .filter_map(|danger| {
            let seen = danger.seen.as_ref().ok().filter(|seen| seen.is_foul)?;
            Some(Danger {
                name: danger.name.clone(),
                east_m: seen.east_m,
                north_m: seen.north_m,
                radius_m: 0.0,
            })
        })
        .collect();
    Swinging {
        radius_m: room.swing_radius_m,
        room_m: work.input.place.room_radius_m,
        ship_m: work.input.ship.length_overall_m,
        bow,
        head_deg: toward.map_or(0.0, |toward| (toward + 180.0).rem_euclid(360.0)),
        track: Vec::new(),
        dangers,
    }
}

/// Says how to lay it.
pub fn method(method: &Method) -> Vec<String> {
    let mut way = order::laying(method.laying).to_owned();
    if let Some(first) = way.get_mut(..1) {
        first.make_ascii_uppercase();
    }
    vec![format!("{way}: {}.", method.reason)]
}

/// Says how fast she may move.
pub fn speeds(speeds: &Speeds) -> Vec<String> {
    vec![words::speeds(
        &format!("{:.2}", speeds.walk_out_kn),
        &format!("{:.1}", speeds.touch_kn),
        &format!("{:.1}", speeds.lay_out_kn),
    )]
}

/// Says what she shows and sounds.
pub fn signals(signals: &Signals) -> Vec<String> {
    let range = signals.light_range_nm.to_string();
    let number = signals.lights.to_string();
    let lights = match (signals.lights, signals.deck_lights_obligatory) {
        (1, false) => words::one_light(&range),
        (1, true) => words::one_light_and_deck(&range),
        (_, false) => words::lights(&number, &range),
        (_, true) => words::lights_and_deck(&number, &range),
    };
    vec![
        lights,
        words::by_day(signals.shape.trim_end_matches('.')),
        words::in_fog(signals.sound.trim_end_matches('.')),
    ]
}

/// What is said of a passage: its times, or that there are none.
struct Passages {
    times: fn(&str, &str) -> String,
    above: Word,
    below: Word,
}

fn passage(said: &Passages, passage: &Passage) -> String {
    let at = |at: Option<UtcMs>| at.map_or_else(|| "\u{2014}".to_owned(), |at| time::clock(at.0));
    match passage.state {
        SunState::RisesAndSets => (said.times)(&at(passage.up), &at(passage.down)),
        SunState::AlwaysAbove => said.above.to_owned(),
        SunState::AlwaysBelow => said.below.to_owned(),
    }
}

/// Says when the Sun rises and sets.
pub fn sun(day: &Day) -> Vec<String> {
    let sun = Passages {
        times: words::sun_up,
        above: words::SUN_ALWAYS_UP,
        below: words::SUN_NEVER_UP,
    };
    let civil = Passages {
        times: words::twilight,
        above: words::LIGHT_ALL_NIGHT,
        below: words::DARK_ALL_DAY,
    };
    vec![passage(&sun, &day.sun), passage(&civil, &day.civil)]
}

#[cfg(test)]
mod tests {
    use super::super::draft::Draft;
    use super::*;
    use seamanship::plan::PlanInput;

    fn worked(change: impl FnOnce(&mut PlanInput)) -> Worked {
        let mut plan = PlanInput::aldermere_demo();
        change(&mut plan);
        Draft::of(&plan).work()
    }

    #[test]
    fn the_hours_written_below_the_depth_are_few_and_within_the_stay() {
        for stay_hours in [2, 16, 30, 24 * 6] {
            let work = worked(|plan| {
                plan.stay.to_utc_ms.0 = plan.stay.from_utc_ms.0 + stay_hours * HOUR_MS;
                let last = plan.stay.tide[4];
                for n in 1..30 {
                    let mut mark = last;
                    mark.at_utc_ms.0 += n * 6 * HOUR_MS;
                    mark.height_m = if n % 2 == 0 { 0.2 } else { 0.6 };
                    plan.stay.tide.push(mark);
                }
            });
            let times = times(&work);
            assert!((2..=7).contains(&times.len()), "{stay_hours} h: {times:?}");
            #[expect(clippy::cast_precision_loss, reason = "small")]
            let most = stay_hours as f64;
            assert!(times.iter().all(|(h, _)| (0.0..=most).contains(h)));
        }
    }

    #[test]
    fn the_ship_lies_where_wind_and_current_push_her_head_to_the_anchor() {
        let work = worked(|plan| {
            plan.weather.wind_from_deg = 0.0;
            plan.weather.current_kn = 0.0;
        });
        let drawn = swinging(&work);
        let (east, north) = drawn.bow.unwrap();
        assert!(east.abs() < 1.0 && north < -20.0, "{east} {north}");
        assert!(drawn.head_deg.abs() < 1e-6 || (drawn.head_deg - 360.0).abs() < 1e-6);
    }

    #[test]
    fn what_is_deep_enough_is_not_drawn_as_a_danger() {
        let all = swinging(&worked(|_| ())).dangers.len();
        let fewer = swinging(&worked(|plan| plan.dangers[0].charted_depth_m = Some(40.0)));
        assert_eq!(fewer.dangers.len() + 1, all);
    }
}
