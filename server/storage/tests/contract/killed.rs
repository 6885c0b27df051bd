//! A server killed in the middle of an ingest has lost nothing that it answered for.

use std::io::{BufRead as _, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

use storage::Appended;

use super::crew::{arrivals, chain, key, vessel};

/// Set in the process that is to be killed; holds the folder and the round.
const FOLDER: &str = "STORAGE_KILLED_FOLDER";
const ROUND: &str = "STORAGE_KILLED_ROUND";
const ROUNDS: u8 = 4;

fn address(folder: &Path) -> String {
    format!("sqlite:{}", folder.join("records.sqlite").display())
}

/// Stores without end and says after each answer what is on disk.
async fn ingest(folder: &Path, round: u8) {
    let store = storage::open(&address(folder)).await.unwrap();
    let records = chain(&key(round), 4000);
    for batch in records.chunks(5) {
        let appended = store.append(arrivals(batch)).await.unwrap();
        assert!(appended.iter().all(|one| *one == Appended::Stored));
        let last = batch.last().unwrap().seq();
        eprintln!("stored {last}");
    }
}

#[tokio::test]
async fn everything_answered_for_survives_sigkill() {
    if let Some(folder) = std::env::var_os(FOLDER) {
        let round = std::env::var(ROUND).unwrap().parse().unwrap();
        return ingest(Path::new(&folder), round).await;
    }
    let folder = tempfile::tempdir().unwrap();
    let mut answered = Vec::new();
    for round in 1..=ROUNDS {
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args([
                "--exact",
                "killed::everything_answered_for_survives_sigkill",
                "--nocapture",
            ])
            .env(FOLDER, folder.path())
            .env(ROUND, round.to_string())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let said = BufReader::new(child.stderr.take().unwrap());
        let mut last = 0;
        for line in said.lines() {
            let line = line.unwrap();
            if let Some(seq) = line.strip_prefix("stored ") {
                last = seq.parse().unwrap();
                if last >= 50 * u64::from(round) {
                    // SIGKILL; what was said before it still comes out of the pipe.
                    child.kill().unwrap();
                }
            }
        }
        assert!(
            !child.wait().unwrap().success(),
            "the child was to be killed, not to finish"
        );
        assert!(last >= 50, "the child stored {last}");
        answered.push((key(round).device(), last));
    }
    let file = rusqlite::Connection::open(folder.path().join("records.sqlite")).unwrap();
    let whole: String = file
        .pragma_query_value(None, "integrity_check", |row| row.get(0))
        .unwrap();
    assert_eq!(whole, "ok");
    drop(file);
    let store = storage::open(&address(folder.path())).await.unwrap();
    let vector = store.vector(vessel()).await.unwrap();
    let stored = store.arrivals(vessel(), 0, 100_000).await.unwrap().len();
    assert_eq!(
        u64::try_from(stored).unwrap(),
        vector.values().sum::<u64>(),
        "no gaps, no halves"
    );
    for (device, last) in answered {
        let height = vector.get(&device).copied().unwrap_or(0);
        assert!(
            height >= last,
            "device {device}: answered for {last}, stored {height}"
        );
        assert_eq!(height % 5, 0, "a batch is stored whole or not at all");
    }
}
