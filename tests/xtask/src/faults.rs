//! Harms a server in as many rounds as one likes, and looks for what is lost by it.

use crate::fault::Fault;
use crate::run::{cargo, run};

/// Rounds where nothing is said.
const ROUNDS: &str = "2000";
/// Rounds over PostgreSQL where nothing is said.
const DATABASE: &str = "400";
/// Power cuts where nothing is said.
const CUTS: &str = "40";

/// Plays the rounds: `[--rounds N] [--database N] [--cuts N] [--seed N]`.
pub fn run_command(arguments: &[String]) -> Result<(), Fault> {
    let is_known = |pair: &[String]| {
        matches!(pair, [name, number]
            if ["--rounds", "--database", "--cuts", "--seed"].contains(&name.as_str())
                && number.parse::<u64>().is_ok())
    };
    if !arguments.chunks(2).all(is_known) {
        return Err(Fault::Usage {
            given: format!("faults {}", arguments.join(" ")),
        });
    }
    let mut command = cargo();
    command.args([
        "test",
        "--package",
        "system-tests",
        "--test",
        "rounds",
        "--",
    ]);
    command.args(["--rounds", ROUNDS, "--database", DATABASE, "--cuts", CUTS]);
    run(command.args(arguments))
}
