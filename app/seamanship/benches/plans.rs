//! What a plan costs, in plans a second and as ratios within one run.
//!
//! Run with `cargo bench -p seamanship`. No figure here fails: it prints.

#![expect(clippy::disallowed_methods, reason = "a benchmark measures time")]

use std::hint::black_box;
use std::time::Instant;

use seamanship::catenary::{Hang, force_at_distance, hang, lift_force};
use seamanship::plan::{PlanInput, work_out};
use seamanship::reckon::reckon;
use seamanship::units::{Metres, Newtons, NewtonsPerMetre};
use serde_json::Value;

/// Nanoseconds for one call, the best of seven rounds. A short round shows that it still works, no more.
fn nanoseconds(calls: u32, mut call: impl FnMut(u32)) -> f64 {
    let is_short = std::env::var("CLEARHAWSE_BENCH").is_ok_and(|round| round == "short");
    let (rounds, calls) = if is_short {
        (1, calls.div_ceil(100))
    } else {
        (7, calls)
    };
    let mut best = f64::INFINITY;
    for _ in 0..rounds {
        let start = Instant::now();
        for index in 0..calls {
            call(index);
        }
        best = best.min(start.elapsed().as_secs_f64() / f64::from(calls) * 1e9);
    }
    best
}

fn main() {
    let bare = nanoseconds(1_000_000, |index| {
        black_box(black_box(1.5 + f64::from(index % 97)).acosh());
    });
    println!("bare acosh: {bare:.1} ns");

    let chain = Hang {
        height: Metres(16.0),
        length: Metres(105.0),
        weight: NewtonsPerMetre(90.4),
        stiffness: None,
    };
    let stretchy = Hang {
        stiffness: Some(Newtons(4.26e7)),
        ..chain
    };
    let pull = |index: u32| Newtons(1_000.0 + f64::from(index % 97) * 600.0);
    let print = |what: &str, ns: f64| {
        println!("{what}: {ns:.0} ns, {:.1} times a bare acosh", ns / bare);
    };
    print(
        "catenary from the force",
        nanoseconds(200_000, |index| {
            black_box(hang(black_box(&chain), pull(index)).ok());
        }),
    );
    print(
        "elastic catenary from the force",
        nanoseconds(100_000, |index| {
            black_box(hang(black_box(&stretchy), pull(index)).ok());
        }),
    );
    print(
        "catenary from the distance",
        nanoseconds(50_000, |index| {
            let reach = Metres(90.0 + f64::from(index % 97) * 0.14);
            black_box(force_at_distance(black_box(&chain), reach).ok());
        }),
    );
    print(
        "force at lift-off, elastic",
        nanoseconds(50_000, |_| {
            black_box(lift_force(black_box(&stretchy)).ok());
        }),
    );

    let mut input = PlanInput::aldermere_demo();
    let plan = nanoseconds(2_000, |index| {
        input.weather.gust_kn = 20.0 + f64::from(index % 20);
        black_box(work_out(black_box(&input)));
    });
    print("whole plan", plan);
    println!("plans a second: {:.0}", 1e9 / plan);
    // One frame of 60 a second, on a processor four times slower than this one.
    let frame = 1e9 / 60.0 / 4.0;
    println!(
        "bench\ta whole plan at 4x\t{:.3}\tmost\t1\t{plan:.0} ns against {frame:.0} ns, a frame on a processor 4 times slower",
        plan / frame
    );

    reference_cases();
}

/// The catenary's reference cases as they come from outside, JSON and all.
fn reference_cases() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/golden/catenary.json");
    let text = std::fs::read_to_string(path).unwrap_or_default();
    let Ok(file) = serde_json::from_str::<Value>(&text) else {
        println!("no reference cases at {path}");
        return;
    };
    let cases = file["cases"].as_array().cloned().unwrap_or_default();
    let all = nanoseconds(50, |_| {
        for case in &cases {
            black_box(reckon("catenary", black_box(case)));
        }
    });
    println!(
        "reckon on the {} catenary cases: {:.2} µs each",
        cases.len(),
        all / 1000.0 / cases.len() as f64
    );
}
