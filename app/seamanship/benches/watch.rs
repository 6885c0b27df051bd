//! What the anchor watch is worth: false alarms on quiet nights, how soon each kind of harm is found, and what it costs.
//!
//! Run with `cargo bench -p seamanship --bench watch`. The nights are those of the tests; a long round plays each with more seeds.

#![expect(clippy::disallowed_methods, reason = "a benchmark measures time")]

#[path = "../tests/nights/judge.rs"]
mod judge;
#[path = "../tests/nights/simulator.rs"]
mod simulator;

use std::collections::BTreeMap;
use std::time::Instant;

/// What came of the nights of one kind.
#[derive(Default)]
struct Sum {
    nights: u32,
    hours: f64,
    false_calls: usize,
    missed: u32,
    delays: Vec<f64>,
    /// The longest delay against the one allowed.
    worst: f64,
}

fn main() {
    let is_short = std::env::var("CLEARHAWSE_BENCH").is_ok_and(|round| round == "short");
    let seeds = if is_short { 1 } else { 8 };
    let mut kinds: BTreeMap<String, Sum> = BTreeMap::new();
    let (mut lines_played, mut seconds) = (0, 0.0);
    for mut night in judge::all() {
        let first = night.seed;
        for seed in 0..seeds {
            night.seed = first + seed * 1000;
            let start = Instant::now();
            let outcome = judge::play(&night);
            seconds += start.elapsed().as_secs_f64();
            lines_played += outcome.lines;
            let sum = kinds.entry(night.kind.clone()).or_default();
            sum.nights += 1;
            sum.hours += night.hours;
            sum.false_calls += outcome.false_calls.len();
            if !outcome.false_calls.is_empty() {
                println!(
                    "false: {} (seed {}): {:?}",
                    night.name, night.seed, outcome.false_calls[0]
                );
            }
            for (expected, delay) in night.expect.iter().zip(&outcome.delays) {
                if let Some(delay) = delay {
                    sum.delays.push(*delay);
                    sum.worst = sum.worst.max(delay / expected.within_s);
                } else {
                    println!(
                        "missed: {} (seed {}): {}",
                        night.name, night.seed, expected.alarm
                    );
                    sum.missed += 1;
                }
            }
        }
    }
    println!(
        "{:<14} {:>6} {:>7} {:>6} {:>7} {:>10} {:>10}",
        "kind", "nights", "hours", "false", "missed", "median s", "longest s"
    );
    let (mut all_false, mut all_missed, mut worst) = (0, 0, 0.0_f64);
    for (kind, sum) in &mut kinds {
        sum.delays.sort_by(f64::total_cmp);
        let at = |at: usize| {
            sum.delays
                .get(at)
                .map_or("-".to_owned(), |delay| format!("{delay:.0}"))
        };
        let (median, longest) = (
            at(sum.delays.len() / 2),
            at(sum.delays.len().saturating_sub(1)),
        );
        println!(
            "{kind:<14} {:>6} {:>7.0} {:>6} {:>7} {median:>10} {longest:>10}",
            sum.nights, sum.hours, sum.false_calls, sum.missed
        );
        all_false += sum.false_calls;
        all_missed += sum.missed;
        worst = worst.max(sum.worst);
    }
    println!(
        "bench\tthe watch: false alarms\t{all_false}\tmost\t0\tcalls that nothing asked for, over all nights and seeds"
    );
    println!(
        "bench\tthe watch: harms missed\t{all_missed}\tmost\t0\texpected alarms that never came, over all nights and seeds"
    );
    println!(
        "bench\tthe watch: delay against the one allowed\t{worst:.3}\tmost\t1\tthe longest over all nights and seeds"
    );
    // Ten sentences a second from each of three sources, writing the night included.
    let need = 30.0 / (f64::from(lines_played) / seconds);
    println!(
        "bench\tthe watch: time for 30 sentences a second\t{need:.5}\tmost\t0.01\t{:.0} sentences a second",
        f64::from(lines_played) / seconds
    );
}
