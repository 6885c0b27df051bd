//! Kills at random moments: of the server, and of the database server behind it.

#[cfg(unix)]
use crate::cluster::Cluster;
use crate::phone::{Dice, Outcome, Phone, unseen};
use crate::support::ship::Ship;
use std::sync::Mutex;
use std::time::Duration;

/// Rounds of one data folder: the restart reads all that is there.
const OF_ONE_FOLDER: u64 = 20;
/// Folders at once: a round waits more than it works.
const AT_ONCE: usize = 4;
/// Records that wait at the beginning of a round.
const RECORDS: usize = 60;
/// A round's server is killed before so many milliseconds have passed.
const LATEST_MS: usize = 150;

/// Plays rounds and counts what was lost.
pub fn run(rounds: u64, dice: &mut Dice) -> Outcome {
    let mut folders = Vec::new();
    let mut left = rounds;
    while left > 0 {
        let of_this = OF_ONE_FOLDER.min(left);
        folders.push((of_this, dice.throw()));
        left -= of_this;
    }
    let folders = Mutex::new(folders);
    let next = || folders.lock().expect("no thread fell over").pop();
    let total = Mutex::new(Outcome::default());
    std::thread::scope(|scope| {
        for _ in 0..AT_ONCE {
            scope.spawn(|| {
                while let Some((rounds, dice)) = next() {
                    let outcome = of_one_folder(rounds, dice);
                    total.lock().expect("no thread fell over").add(&outcome);
                }
            });
        }
    });
    total.into_inner().expect("no thread fell over")
}

fn of_one_folder(rounds: u64, mut dice: Dice) -> Outcome {
    let data = tempfile::tempdir().expect("a folder");
    let mut ship = Ship::mustered(data.path());
    let mut phone = Phone::enrolled(&ship);
    let mut outcome = Outcome::default();
    for round in 0..rounds {
        phone.works(RECORDS);
        let told = phone.sends(&ship.url, dice.throw());
        // When the kill comes is what this is about; nothing is asserted of it.
        std::thread::sleep(Duration::from_millis(dice.below(LATEST_MS) as u64));
        ship.kill();
        phone.heard(&told);
        ship = Ship::start(data.path(), &[]);
        let lost = phone.lost(&ship);
        if lost > 0 {
            println!("rounds: {lost} records lost in round {round} of a folder");
        }
        outcome.lost += lost;
        outcome.rounds += 1;
    }
    outcome.acknowledged = phone.acknowledged();
    outcome
}

/// Plays rounds over PostgreSQL, one after the other: the server is killed, the database server is, or it is stopped
/// at once. None where PostgreSQL may be gone without.
#[cfg(unix)]
pub fn run_over_database(rounds: u64, dice: &mut Dice) -> Option<Outcome> {
    let cluster = Cluster::start()?;
    let data = tempfile::tempdir().expect("a folder");
    let address = cluster.address();
    let store = ["--store", address.as_str()];
    let mut ship = Ship::mustered_with(data.path(), &store);
    let mut phone = Phone::enrolled(&ship);
    let mut outcome = Outcome::default();
    for round in 0..rounds {
        phone.works(RECORDS);
        let told = phone.sends(&ship.url, dice.throw());
        // When the kill comes is what this is about; nothing is asserted of it.
        std::thread::sleep(Duration::from_millis(dice.below(LATEST_MS) as u64));
        let kind = dice.below(3);
        match kind {
            0 => {
                ship.kill();
                phone.heard(&told);
                ship = Ship::start(data.path(), &store);
            }
            1 => cluster.crash(),
            _ => cluster.down(),
        }
        if kind != 0 {
            phone.heard(&told);
            cluster.up();
        }
        let lost = phone.lost(&ship) + unseen(&ship);
        if lost > 0 {
            println!("rounds: {lost} records lost in round {round} over a database");
        }
        outcome.lost += lost;
        outcome.rounds += 1;
    }
    outcome.acknowledged = phone.acknowledged();
    Some(outcome)
}

/// PostgreSQL is asked for on Unix alone.
#[cfg(not(unix))]
pub fn run_over_database(_: u64, _: &mut Dice) -> Option<Outcome> {
    None
}
