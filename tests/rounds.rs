//! Rounds of harm: a server is killed at random moments, or the power cut, while a client sends with every fault that a
//! bad link has. Over PostgreSQL the database server is killed as well. After each, whatever was acknowledged has to be there, byte for byte.
//!
//! `cargo test -p system-tests --test rounds -- [--rounds N] [--database N] [--cuts N] [--seed N]`. What a kill shows is that the
//! program itself holds nothing back that it has answered for; the system's memory outlives it. What a power cut shows,
//! by an image of the disk, is that it was on the disk; its control is the same on a disk that does not do what a flush
//! asks for, and has to lose.

#[cfg(unix)]
#[path = "../server/storage/tests/contract/cluster.rs"]
#[expect(clippy::unwrap_used, reason = "as the tests of the storage write it")]
#[expect(dead_code, reason = "of it rounds need a part")]
mod cluster;
#[path = "rounds/kills.rs"]
mod kills;
#[path = "rounds/phone.rs"]
mod phone;
#[path = "rounds/power.rs"]
mod power;
#[expect(dead_code, reason = "the tests' support, of which rounds need a part")]
mod support;

use phone::Dice;
use std::process::ExitCode;

/// Rounds where nothing is said.
const ROUNDS: u64 = 240;
/// Rounds over PostgreSQL where nothing is said.
const DATABASE: u64 = 40;
/// Power cuts where nothing is said.
const CUTS: u64 = 6;

struct Wanted {
    rounds: u64,
    database: u64,
    cuts: u64,
    seed: u64,
}

/// Reads the arguments; whatever else a test's program is given is not for this one.
fn wanted() -> Option<Wanted> {
    let mut wanted = Wanted {
        rounds: ROUNDS,
        database: DATABASE,
        cuts: CUTS,
        seed: u64::from(std::process::id()),
    };
    let mut arguments = std::env::args().skip(1);
    while let Some(name) = arguments.next() {
        let slot = match name.as_str() {
            "--rounds" => &mut wanted.rounds,
            "--database" => &mut wanted.database,
            "--cuts" => &mut wanted.cuts,
            "--seed" => &mut wanted.seed,
            // A word that names tests: none of them is here.
            _ => return None,
        };
        *slot = arguments.next()?.parse().ok()?;
    }
    Some(wanted)
}

fn main() -> ExitCode {
    let Some(wanted) = wanted() else {
        println!("rounds: not asked for");
        return ExitCode::SUCCESS;
    };
    let Wanted {
        rounds,
        database,
        cuts,
        seed,
    } = wanted;
    println!("rounds: seed {seed}");
    let mut dice = Dice::new(seed);
    let killed = kills::run(rounds, &mut dice);
    println!(
        "rounds: {} kills, {} records acknowledged, {} lost",
        killed.rounds, killed.acknowledged, killed.lost
    );
    let mut is_sound = killed.lost == 0 && killed.acknowledged > 0;
    if database > 0 {
        match kills::run_over_database(database, &mut dice) {
            None => {
                println!("rounds: kills over PostgreSQL were NOT tried: it is not on this machine");
            }
            Some(killed) => {
                println!(
                    "rounds: {} kills over PostgreSQL, {} records acknowledged, {} lost",
                    killed.rounds, killed.acknowledged, killed.lost
                );
                is_sound &= killed.lost == 0 && killed.acknowledged > 0;
            }
        }
    }
    if cuts > 0 {
        if let Err(why) = power::Disk::can_be_made() {
            println!("rounds: power cuts were NOT tried: {why}");
        } else {
            let held = power::run(cuts, power::Flush::Done, &mut dice);
            let control = power::run(cuts, power::Flush::Ignored, &mut dice);
            println!(
                "rounds: {cuts} power cuts, {} records acknowledged, {} lost; on a disk that ignores flushes {} of {} \
                 were lost",
                held.acknowledged, held.lost, control.lost, control.acknowledged
            );
            if control.lost == 0 {
                println!("rounds: the control lost nothing: these power cuts show nothing");
            }
            is_sound &= held.lost == 0 && held.acknowledged > 0 && control.lost > 0;
        }
    }
    if is_sound {
        ExitCode::SUCCESS
    } else {
        println!("rounds: FAILED; the same again with --seed {seed}");
        ExitCode::FAILURE
    }
}
