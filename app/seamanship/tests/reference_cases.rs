//! Every reference case within its file's tolerance, asked through the interface from outside.
//!
//! The cases were made with general-purpose reference libraries; each file's header names them,
//! their versions and the tolerance.

use seamanship::reckon::reckon;
use serde_json::{Map, Value};

/// How far a field may be from the reference.
#[derive(Clone, Copy)]
enum Within {
    /// By this much, or by this part of the value, whichever is more.
    Either { absolute: f64, relative: f64 },
    /// An angle: by this many degrees round the circle.
    Degrees(f64),
    /// A moment: by this many seconds.
    Seconds(f64),
}

struct Check {
    file: &'static str,
    name: &'static str,
    tolerance: fn(&Value, &str) -> Within,
    expected_cases: usize,
}

fn field<'a>(case: &'a Value, part: &str) -> &'a Map<String, Value> {
    case[part].as_object().expect("an object")
}

fn seconds(text: &str) -> f64 {
    let ms = seamanship::time::UtcMs::parse("event", text).expect("a moment");
    ms.0 as f64 / 1000.0
}

fn differs(got: &Value, want: &Value, within: Within) -> Option<String> {
    let said = || Some(format!("{got}, reference {want}"));
    match (got, want) {
        (Value::Number(g), Value::Number(w)) => {
            let (g, w) = (g.as_f64()?, w.as_f64()?);
            let off = (g - w).abs();
            let ok = match within {
                Within::Either { absolute, relative } => off <= absolute.max(relative * w.abs()),
                Within::Degrees(most) => off.min(360.0 - off) <= most,
                Within::Seconds(most) => off <= most,
            };
            if ok { None } else { said() }
        }
        (Value::String(g), Value::String(w)) if g != w => match within {
            Within::Seconds(most) if (seconds(g) - seconds(w)).abs() <= most => None,
            _ => said(),
        },
        (g, w) if g == w => None,
        _ => said(),
    }
}

fn run(check: &Check) {
    let path = format!("{}/tests/golden/{}", env!("CARGO_MANIFEST_DIR"), check.file);
    let text = std::fs::read_to_string(&path).expect("the file is there");
    let file: Value = serde_json::from_str(&text).expect("the file is JSON");
    let cases = file["cases"].as_array().expect("cases");
    assert_eq!(cases.len(), check.expected_cases, "{}", check.file);
    let mut wrong = Vec::new();
    for case in cases {
        let id = case["id"].as_str().expect("an id");
        let got = reckon(check.name, case);
        if let Some(error) = case["out"].get("error") {
            if got.get("error") != Some(error) {
                wrong.push(format!("{id}: {got}, reference error {error}"));
            }
            continue;
        }
        let Some(out) = got.get("out").and_then(Value::as_object) else {
            wrong.push(format!("{id}: {got}"));
            continue;
        };
        for (name, want) in field(case, "out") {
            let Some(value) = out.get(name) else {
                wrong.push(format!("{id}: {name} is missing"));
                continue;
            };
            if either_status_is_right(case, name) {
                continue;
            }
            if let Some(said) = differs(value, want, (check.tolerance)(case, name)) {
                wrong.push(format!("{id}: {name} is {said}"));
            }
        }
        for name in out
            .keys()
            .filter(|name| !field(case, "out").contains_key(*name))
        {
            wrong.push(format!("{id}: {name} is not in the reference"));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        check.file,
        wrong.join("\n")
    );
}

/// At lift-off to the last digit a chain is as much grounded as lifted.
fn either_status_is_right(case: &Value, name: &str) -> bool {
    case["kind"] == "at_lift_off" && name == "status"
}

const fn either(absolute: f64, relative: f64) -> Within {
    Within::Either { absolute, relative }
}

#[test]
fn the_catenary_agrees_with_the_closed_form_at_50_digits() {
    run(&Check {
        file: "catenary.json",
        name: "catenary",
        tolerance: |_, _| either(1e-6, 1e-6),
        expected_cases: 70,
    });
}

#[test]
fn geodesics_agree_with_geographiclib() {
    run(&Check {
        file: "geodesic.json",
        name: "geodesic",
        tolerance: |case, name| match name {
            "lat" | "lon" | "bow_lat" | "bow_lon" | "anchor_lat" | "anchor_lon" => {
                Within::Degrees(1e-8)
            }
            name if name.ends_with("_deg") => Within::Degrees(bearing_tolerance(case)),
            _ => either(1e-3, 0.0),
        },
        expected_cases: 86,
    });
}

/// Bearings of lines under 10 m are as uncertain as the places that they join.
fn bearing_tolerance(case: &Value) -> f64 {
    let length = case["out"]["distance_m"]
        .as_f64()
        .or_else(|| case["in"]["distance_m"].as_f64())
        .or_else(|| case["out"]["antenna_to_anchor_m"].as_f64())
        .or_else(|| case["out"]["fix_distance_m"].as_f64())
        .unwrap_or(0.0);
    if length > 10.0 { 1e-6 } else { 1e-4 / length }
}

#[test]
fn tides_agree_with_exact_arithmetic_and_schureman() {
    run(&Check {
        file: "tide.json",
        name: "tide",
        tolerance: |case, name| match case["kind"].as_str() {
            Some("harmonic") => either(0.03, 0.0),
            Some("harmonic_sum") => either(1e-4, 0.0),
            _ if name.starts_with("seconds_") => Within::Seconds(0.5),
            _ => either(1e-9, 0.0),
        },
        expected_cases: 114,
    });
}

#[test]
fn ventilation_agrees_with_the_closed_form() {
    run(&Check {
        file: "ventilation.json",
        name: "ventilation",
        tolerance: |case, name| match name {
            "concentration" => {
                let number = |name: &str| case["in"][name].as_f64().unwrap_or(0.0);
                either(1e-9 * number("c0").max(number("c_in")), 1e-9)
            }
            _ => either(1e-12, 1e-9),
        },
        expected_cases: 64,
    });
}

#[test]
fn hydraulics_agree_with_colebrook_solved_exactly() {
    run(&Check {
        file: "hydraulics.json",
        name: "hydraulics",
        tolerance: |case, _| match case["kind"].as_str() {
            Some("hazen_williams") => either(0.0, 1e-9),
            _ => either(1e-9, 1e-6),
        },
        expected_cases: 80,
    });
}

#[test]
fn wind_loads_and_densities_agree_with_teos10() {
    run(&Check {
        file: "wind_load.json",
        name: "wind_load",
        tolerance: |_, name| match name {
            "density_teos10_kg_m3" => either(0.01, 0.0),
            "density_eos80_kg_m3" => either(1e-4, 0.0),
            "resultant_toward_deg" => Within::Degrees(1e-9),
            _ => either(1e-15, 1e-9),
        },
        expected_cases: 66,
    });
}

#[test]
fn the_sun_agrees_with_a_planetary_ephemeris() {
    run(&Check {
        file: "sun.json",
        name: "sun",
        tolerance: |case, name| {
            let high = case["in"]["lat"]
                .as_f64()
                .is_some_and(|lat| lat.abs() > 60.0);
            match name {
                name if name.ends_with("_utc") => Within::Seconds(if high { 180.0 } else { 90.0 }),
                // The reference took the greatest and least of samples, which fall short of ours.
                "max_altitude_deg" | "min_altitude_deg" => either(0.2, 0.0),
                // Printed to 0.001°.
                _ => either(0.0025, 0.0),
            }
        },
        expected_cases: 62,
    });
}

#[test]
fn chain_tables_agree_with_exact_fractions() {
    run(&Check {
        file: "chain_tables.json",
        name: "chain_tables",
        tolerance: |case, _| match case["kind"].as_str() {
            Some("table_rows_from_memory") => either(2.0, 0.0),
            _ => either(0.0, 1e-9),
        },
        expected_cases: 46,
    });
}

#[test]
fn every_answer_carries_what_to_know_before_relying_on_it() {
    for sum in seamanship::reckon::list() {
        assert!(
            !sum.caution.trim().is_empty(),
            "{} has no caution",
            sum.name
        );
        let name = format!("{}.json", sum.name);
        let path = format!("{}/tests/golden/{name}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(&path).expect("the file is there");
        let file: Value = serde_json::from_str(&text).expect("JSON");
        let cases = file["cases"].as_array().expect("a list").iter();
        let answers: Vec<Value> = cases.map(|case| reckon(sum.name, case)).collect();
        let answer = answers.iter().find(|answer| answer.get("out").is_some());
        let said = answer.expect("one that can be reckoned")["caution"].as_str();
        let said = said.expect("a text");
        assert!(said.starts_with(sum.caution), "{said}");
        assert!(said.contains("safety management system"), "{said}");
    }
}

#[test]
fn a_kind_is_found_by_the_name_that_it_had_at_first() {
    let case = |kind: &str| serde_json::json!({"kind": kind, "in": {"diameter_mm": 60.0, "rho_water": 1025.0, "g": 9.80665}});
    let now = reckon("chain_tables", &case("offshore_studlink_r4"));
    assert!(now["out"].is_object(), "{now}");
    assert_eq!(now, reckon("chain_tables", &case("moorpy_studlink_r4")));
}
