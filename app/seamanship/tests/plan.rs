//! The plan as a whole: each part alone, its bounds, and what it says when something is wrong.

use seamanship::plan::{Basis, LimitKind, PlanInput, PlanOutput, Problem, Side, work_out};
use seamanship::rules::CableRule;
use seamanship::time::UtcMs;
use serde_json::Value;

fn demo() -> PlanInput {
    PlanInput::aldermere_demo()
}

fn worked(change: impl FnOnce(&mut PlanInput)) -> PlanOutput {
    let mut input = demo();
    change(&mut input);
    work_out(&input)
}

#[track_caller]
fn problem<T: std::fmt::Debug>(result: &Result<T, Problem>, field: &str) -> String {
    let problem = result.as_ref().expect_err("a problem");
    assert_eq!(problem.field, field, "{}", problem.words);
    problem.words.clone()
}

/// Which parts have no result.
fn blank(output: &PlanOutput) -> Vec<String> {
    let json = serde_json::to_value(output).expect("JSON");
    let parts = json.as_object().expect("an object");
    let is_blank = |part: &Value| part["result"].get("Err").is_some();
    parts
        .iter()
        .filter(|(_, part)| is_blank(part))
        .map(|(name, _)| name.clone())
        .collect()
}

#[test]
fn the_example_works_out_whole_and_clear() {
    let output = worked(|_| {});
    assert_eq!(blank(&output), Vec::<String>::new());
    assert!(output.depth.result.as_ref().unwrap().is_enough);
    assert!(output.proposed.result.as_ref().unwrap().length.fit.fits());
    assert!(output.room.result.as_ref().unwrap().is_clear);
    assert!(output.windlass.result.as_ref().unwrap().is_enough);
    assert!(output.brake.result.as_ref().unwrap().brake_is_enough);
    assert!(!output.limits.result.as_ref().unwrap().is_exceeded);
    // Only the rule for deep water does not hold here.
    let without: Vec<_> = output
        .by_rule
        .iter()
        .filter(|row| row.length.result.is_err())
        .map(|row| row.rule)
        .collect();
    assert_eq!(without, [CableRule::DeepWater]);
}

#[test]
fn every_part_bears_its_source_and_caution() {
    let output = worked(|_| {});
    let json = serde_json::to_value(&output).unwrap();
    for (name, part) in json.as_object().unwrap() {
        let parts = match part {
            Value::Array(rows) => rows.iter().map(|row| &row["length"]).collect(),
            part => vec![part],
        };
        for part in parts {
            for text in ["source", "caution"] {
                let said = part[text].as_str().unwrap_or_default();
                assert!(said.len() > 20, "{name} {text}: {said:?}");
            }
        }
    }
}

#[test]
fn input_and_output_survive_being_stored() {
    let input = demo();
    let text = serde_json::to_string(&input).unwrap();
    assert_eq!(serde_json::from_str::<PlanInput>(&text).unwrap(), input);
    let output = work_out(&input);
    let text = serde_json::to_string(&output).unwrap();
    let back: PlanOutput = serde_json::from_str(&text).unwrap();
    // The last digit of a number may be lost in JSON; nothing else is.
    let (before, after) = (
        output.proposed.result.unwrap(),
        back.proposed.result.unwrap(),
    );
    assert_eq!((&before.reason, before.basis), (&after.reason, after.basis));
    assert!((before.wanted_m - after.wanted_m).abs() < 1e-9);
    assert_eq!(back.depth.source, output.depth.source);
    assert_eq!(back.signals, output.signals);
}

#[test]
fn a_wrong_wind_blanks_only_what_needs_the_wind() {
    let output = worked(|input| input.weather.gust_kn = f64::NAN);
    let words = problem(&output.pull.result, "weather.gust_kn");
    assert_eq!(words, "is not a number");
    assert_eq!(
        blank(&output),
        [
            "by_catenary",
            "hanging",
            "holding",
            "limits",
            "pull",
            "room"
        ]
    );
    // The ship's rule still proposes a length.
    let proposed = output.proposed.result.unwrap();
    assert_eq!(proposed.basis, Basis::Rule);
}

#[test]
fn a_wrong_diameter_is_named_on_the_side_in_use() {
    let output = worked(|input| {
        input.cable.side = Side::Starboard;
        input.cable.starboard.chain_diameter_mm = 5.0;
    });
    let words = problem(&output.brake.result, "cable.starboard.chain_diameter_mm");
    assert_eq!(words, "is 5, but must be from 12.5 to 162");
    problem(
        &output.by_rule[0].length.result,
        "cable.starboard.chain_diameter_mm",
    );
    assert!(output.depth.result.is_ok());
}

#[test]
fn a_tide_that_does_not_cover_the_stay_is_said_to() {
    let output = worked(|input| {
        input.stay.tide.truncate(2);
    });
    let words = problem(&output.depth.result, "stay.tide");
    assert_eq!(words, "the high and low waters do not cover this time");
    let output = worked(|input| input.stay.tide.clear());
    problem(&output.depth.result, "stay.tide");
    let output = worked(|input| {
        let stay = &mut input.stay;
        std::mem::swap(&mut stay.from_utc_ms, &mut stay.to_utc_ms);
    });
    problem(&output.depth.result, "stay.to_utc_ms");
}

#[test]
fn the_least_depth_is_the_least_of_the_curve() {
    let output = worked(|_| {});
    let depth = output.depth.result.unwrap();
    let least = depth
        .series
        .iter()
        .map(|p| p.under_keel_m)
        .fold(f64::INFINITY, f64::min);
    assert!((least - depth.under_keel_least_m).abs() < 0.01);
    assert!(least >= depth.under_keel_least_m - 1e-9);
    let input = demo();
    let first = depth.series[0].at_utc_ms;
    let last = depth.series[depth.series.len() - 1].at_utc_ms;
    assert_eq!(
        (first, last),
        (input.stay.from_utc_ms, input.stay.to_utc_ms)
    );
    // Lowest at the second low water, 13 h 41 after noon.
    assert_eq!(depth.under_keel_least_at, input.stay.tide[2].at_utc_ms);
}

#[test]
fn no_wind_and_no_sea_leave_the_chain_up_and_down() {
    let output = worked(|input| {
        input.weather.wind_kn = 0.0;
        input.weather.gust_kn = 0.0;
        input.weather.current_kn = 0.0;
        input.weather.wave_height_m = 0.0;
    });
    assert_eq!(blank(&output), Vec::<String>::new());
    let hanging = output.hanging.result.unwrap();
    assert!((hanging.suspended_m - hanging.hawse_m).abs() < 1e-9);
    assert_eq!(output.holding.result.unwrap().margin, None);
    assert!(!output.limits.result.unwrap().is_exceeded);
}

#[test]
fn no_water_is_a_depth_and_not_enough() {
    let output = worked(|input| input.place.charted_depth_m = 0.0);
    let depth = output.depth.result.unwrap();
    assert!(!depth.is_enough && depth.under_keel_least_m < 0.0);
}

#[test]
fn what_is_not_aboard_is_said_and_never_cut_short_in_silence() {
    let output = worked(|input| {
        input.cable.port.shackles_aboard = 3.0;
    });
    let proposed = output.proposed.result.unwrap();
    assert_eq!(proposed.basis, Basis::AllAboard);
    assert!(proposed.reason.contains("short by"), "{}", proposed.reason);
    assert!(proposed.wanted_m > proposed.length.length_m);
    let output = worked(|input| {
        input.cable.port.shackles_aboard = 1.0;
        input.choice.ordered_shackles = None;
    });
    let words = problem(&output.hanging.result, "cable.port.shackles_aboard");
    assert!(words.contains("do not reach the bottom"), "{words}");
}

#[test]
fn an_order_is_worked_out_as_ordered() {
    let output = worked(|input| input.choice.ordered_shackles = Some(5.0));
    let proposed = output.proposed.result.unwrap();
    assert_eq!(proposed.basis, Basis::Ordered);
    assert!((proposed.length.length_m - (5.0 * 27.5 - 4.5)).abs() < 1e-9);
    let output = worked(|input| input.choice.ordered_shackles = Some(7.0));
    let length = output.proposed.result.unwrap().length;
    assert!((length.fit.short_by_m - (7.0 * 27.5 - 4.5 - 150.5)).abs() < 1e-9);
    for bad in [0.0, -1.0, f64::NAN, 0.2] {
        let output = worked(|input| input.choice.ordered_shackles = Some(bad));
        problem(&output.proposed.result, "choice.ordered_shackles");
    }
}

#[test]
fn limits_come_smallest_first_and_lift_off_before_dragging_when_it_is_so() {
    let limits = worked(|_| {}).limits.result.unwrap();
    assert!(
        limits
            .rows
            .windows(2)
            .all(|rows| rows[0].gust_kn <= rows[1].gust_kn)
    );
    assert_eq!(limits.smallest().unwrap().kind, LimitKind::ChainLifts);
    assert!(
        limits.beyond.contains("the last link lifts"),
        "{}",
        limits.beyond
    );
    let rock = worked(|input| input.place.ground = seamanship::holding::Ground::Rock);
    assert_eq!(
        rock.limits.result.unwrap().smallest().unwrap().kind,
        LimitKind::AnchorDrags
    );
    let gale = worked(|input| {
        input.weather.wind_kn = 60.0;
        input.weather.gust_kn = 75.0;
        input.choice.ordered_shackles = Some(3.0);
    });
    assert!(gale.limits.result.unwrap().is_exceeded);
}

#[test]
fn at_the_limit_wind_the_pull_is_the_limit() {
    let limits = worked(|_| {}).limits.result.unwrap();
    let first = limits.smallest().unwrap().clone();
    let there = worked(|input| {
        input.weather.wind_kn = first.mean_kn;
        input.weather.gust_kn = first.gust_kn;
    });
    let pull = there.pull.result.unwrap().design_kilonewtons;
    assert!(
        (pull - first.pull_kilonewtons.unwrap()).abs() < 1e-6,
        "{pull}"
    );
}

#[test]
fn a_rock_inside_the_circle_is_not_clear() {
    let near = worked(|input| {
        input.dangers[0].latitude_deg = input.place.latitude_deg + 0.001;
        input.dangers[0].longitude_deg = input.place.longitude_deg;
    });
    let room = near.room.result.unwrap();
    assert!(!room.is_clear);
    let rock = room.dangers[0].seen.as_ref().unwrap();
    assert!(rock.is_foul && rock.clear_by_m < 0.0);
    assert!((rock.distance_m - 111.1).abs() < 0.5 && (rock.north_m - 111.1).abs() < 0.5);
    // Deep enough to swing over, it does not count.
    let deep = worked(|input| {
        input.dangers[0].latitude_deg = input.place.latitude_deg + 0.001;
        input.dangers[0].longitude_deg = input.place.longitude_deg;
        input.dangers[0].charted_depth_m = Some(9.0);
    });
    assert!(deep.room.result.unwrap().is_clear);
    let tight = worked(|input| input.place.room_radius_m = Some(150.0));
    assert!(!tight.room.result.unwrap().is_clear);
}

#[test]
fn a_danger_that_cannot_be_placed_is_named_and_not_clear() {
    let output = worked(|input| input.dangers[1].latitude_deg = 143.0);
    let room = output.room.result.unwrap();
    assert!(!room.is_clear);
    problem(&room.dangers[0].seen, "dangers[1].latitude_deg");
}

/// Replaces the number at a path.
fn numbers(value: &mut Value, change: &mut impl FnMut(&mut Value)) {
    match value {
        Value::Array(items) => items.iter_mut().for_each(|item| numbers(item, change)),
        Value::Object(fields) => fields.values_mut().for_each(|item| numbers(item, change)),
        Value::Number(_) => change(value),
        _ => {}
    }
}

/// Visits the field of every problem in an output.
fn problems(value: &Value, visit: &mut impl FnMut(&str)) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| problems(item, visit)),
        Value::Object(fields) => {
            if let Some(field) = fields.get("Err").and_then(|err| err["field"].as_str()) {
                visit(field);
            }
            fields.values().for_each(|item| problems(item, visit));
        }
        _ => {}
    }
}

/// Says whether an input has such a path: `dangers[1].latitude_deg`.
fn has_path(input: &Value, path: &str) -> bool {
    let pointer = path.replace('[', "/").replace(']', "").replace('.', "/");
    input.pointer(&format!("/{pointer}")).is_some()
}

#[test]
fn no_number_anywhere_makes_the_plan_panic_or_give_what_is_not_a_number() {
    let original = serde_json::to_value(demo()).unwrap();
    let mut count = 0;
    numbers(&mut original.clone(), &mut |_| count += 1);
    assert!(count > 50, "{count}");
    for target in 0..count {
        for bad in [-1e9, -1.0, 0.0, 1e-12, 0.5, 1e4, 1e18] {
            let mut changed = original.clone();
            let mut index = 0;
            numbers(&mut changed, &mut |number| {
                if index == target {
                    #[expect(clippy::cast_possible_truncation, reason = "whole numbers")]
                    {
                        *number = if number.is_i64() {
                            Value::from(bad as i64)
                        } else {
                            Value::from(bad)
                        };
                    }
                }
                index += 1;
            });
            let input: PlanInput = serde_json::from_value(changed).unwrap();
            let output = work_out(&input);
            problems(&serde_json::to_value(&output).unwrap(), &mut |field| {
                assert!(
                    has_path(&original, field),
                    "number {target} as {bad}: {field}"
                );
            });
            // What is not finite is written as null, which no number of the output may be.
            let text = serde_json::to_string(&output).unwrap();
            let back: Result<PlanOutput, _> = serde_json::from_str(&text);
            assert!(back.is_ok(), "number {target} as {bad}: {:?}", back.err());
        }
    }
}

#[test]
fn not_a_number_in_any_wind_or_length_is_named() {
    let output = worked(|input| {
        input.ship.length_overall_m = f64::NAN;
        input.ship.hawse_height_m = f64::INFINITY;
        input.gear.windlass_speed_m_per_min = f64::NAN;
        input.place.latitude_deg = f64::NAN;
        input.stay.from_utc_ms = UtcMs(i64::MAX);
    });
    problem(&output.signals.result, "ship.length_overall_m");
    problem(&output.depth.result, "ship.hawse_height_m");
    problem(&output.speeds.result, "gear.windlass_speed_m_per_min");
    problem(&output.sun.result, "place.latitude_deg");
}
