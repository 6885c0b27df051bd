//! The real program, started in a folder of its own on a port that the system chooses.

use super::hand::Hand;
use super::http;
use journal::Body;
use journal::body::{Person, VesselBody};
use record::{SoftKey, VesselId};
use std::fs::File;
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, ExitStatus, Output, Stdio};
use std::time::{Duration, Instant};

/// The seed of the tests' own ship; public, never use it.
pub const SEED: [u8; 32] = [7; 32];

/// Returns the program under test: the one that the environment names, or the one built with the tests.
pub fn program() -> PathBuf {
    std::env::var_os("CLEARHAWSE_BIN").map_or_else(
        || PathBuf::from(env!("CARGO_BIN_EXE_clearhawse-under-test")),
        PathBuf::from,
    )
}

/// Runs a command of the program to its end.
pub fn run<'a>(arguments: impl IntoIterator<Item = &'a str>) -> Output {
    let mut command = Command::new(program());
    forget_settings(&mut command);
    command
        .args(arguments)
        .stdin(Stdio::null())
        .output()
        .expect("the program starts")
}

/// Settings that happen to be in the environment are not the tests'.
fn forget_settings(command: &mut Command) {
    for (name, _) in std::env::vars_os() {
        let is_setting = name.to_string_lossy().starts_with("CLEARHAWSE_");
        if is_setting && name != "CLEARHAWSE_BIN" {
            command.env_remove(name);
        }
    }
}

/// A server that runs; killed when dropped.
#[derive(Debug)]
pub struct Ship {
    child: Child,
    // Held open: a console that goes away is another test.
    _console: BufReader<ChildStdout>,
    pub url: String,
    pub authority: String,
    pub code: String,
}

impl Ship {
    /// Starts a server on what is in `data`.
    pub fn start(data: &Path, more: &[&str]) -> Self {
        std::fs::create_dir_all(data).expect("a folder");
        let log = File::options()
            .create(true)
            .append(true)
            .open(data.join("server.log"))
            .expect("a log");
        let mut command = Command::new(program());
        forget_settings(&mut command);
        let mut child = command
            .args(["serve", "--listen", "127.0.0.1:0", "--data"])
            .arg(data)
            .args(more)
            // At a developer's terminal it would ask for a passphrase.
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(log)
            .spawn()
            .expect("the program starts");
        let mut console = BufReader::new(child.stdout.take().expect("a console"));
        let mut line_after = |words: &str| {
            let mut line = String::new();
            console.read_line(&mut line).expect("a line");
            let told = std::fs::read_to_string(data.join("server.log")).unwrap_or_default();
            let at = line.find(words);
            let at = at.unwrap_or_else(|| panic!("{line:?} lacks {words:?}; the log says: {told}"));
            line[at + words.len()..].trim().to_owned()
        };
        let url = format!("http://{}", line_after("at http://"));
        let authority = line_after("Ship's key: ");
        let code = line_after("First-contact code: ");
        Self {
            child,
            _console: console,
            url,
            authority,
            code,
        }
    }

    /// Starts the tests' own ship in an empty folder, with her crew on record.
    pub fn mustered(data: &Path) -> Self {
        std::fs::create_dir_all(data).expect("a folder");
        server::authority::make(data, SEED, None).expect("a key");
        let ship = Self::start(data, &[]);
        let mut authority = Hand::new(SoftKey::from_seed(SEED), "ship", vessel());
        let body = authority.says(None, vessel_body());
        assert_eq!(http::push(&ship.url, body.bytes()).stored, 1);
        ship
    }

    /// Ends it as a power cut does.
    pub fn kill(mut self) {
        self.child.kill().expect("it runs");
        self.child.wait().expect("it ends");
    }

    /// Asks it to end; returns how it ended and how long that took.
    pub fn stop(mut self) -> (ExitStatus, Duration) {
        let start = Instant::now();
        let pid = self.child.id().to_string();
        let asked = Command::new("kill").args(["-TERM", &pid]).status();
        assert!(asked.expect("kill runs").success());
        let status = self.child.wait().expect("it ends");
        (status, start.elapsed())
    }
}

impl Drop for Ship {
    fn drop(&mut self) {
        // It may have ended already.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The tests' own ship.
pub fn vessel() -> VesselId {
    SoftKey::from_seed(SEED).public().vessel()
}

/// The ship and the people aboard her.
pub fn vessel_body() -> Body {
    let person = |id: &str, name: &str, rank: &str, roles: &[&str]| Person {
        id: id.to_owned(),
        name: name.to_owned(),
        rank: rank.to_owned(),
        roles: roles.iter().map(|role| (*role).to_owned()).collect(),
    };
    Body::Vessel(VesselBody {
        name: "Aldermere".to_owned(),
        particulars: "motor yacht, 49 m, 690 GT".to_owned(),
        crew: vec![
            person(
                "holt",
                "Maren Holt",
                "master",
                &["crew", "master", "officer"],
            ),
            person(
                "thorne",
                "Ravi Thorne",
                "chief officer",
                &["crew", "officer"],
            ),
            person("orrin", "Tam Orrin", "bosun", &["crew"]),
            person("salter", "Wen Salter", "deckhand", &["crew"]),
        ],
        latitude_e7: 435_120_000,
        longitude_e7: 70_610_000,
    })
}
