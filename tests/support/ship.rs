//! The real program, started in a folder of its own on a port that the system chooses.

#![expect(
    clippy::disallowed_methods,
    reason = "waits for a server with an end to the waiting"
)]

use super::hand::Hand;
use super::http;
use journal::Body;
use journal::body::{Person, VesselBody};
use record::{SoftKey, VesselId};
use std::ffi::OsStr;
use std::fs::File;
use std::io::{BufRead as _, BufReader};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdout, Command, ExitStatus, Output, Stdio};
use std::time::{Duration, Instant};

/// The tests' own note in a data folder: the seed of the key that is signed in.
const SIGNED_IN: &str = "signed-in.seed";

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

/// What a server is told that serves what is in `data`.
fn serving(data: &Path) -> [&OsStr; 5] {
    let [serve, listen, address] = ["serve", "--listen", "127.0.0.1:0"].map(OsStr::new);
    [
        serve,
        listen,
        address,
        OsStr::new("--data"),
        data.as_os_str(),
    ]
}

/// A server that runs; killed when dropped.
#[derive(Debug)]
pub struct Ship {
    child: Child,
    // Held open: a console that goes away is another test.
    console: BufReader<ChildStdout>,
    pub url: String,
    pub authority: String,
    /// The first-contact code; empty where somebody is enrolled who hands out others.
    pub code: String,
    pub data: PathBuf,
    /// Where its records are, if not in its folder.
    store: Option<String>,
}

impl Ship {
    /// Starts a server on what is in `data`.
    pub fn start(data: &Path, more: &[&str]) -> Self {
        let mut command = Command::new(program());
        command.args(serving(data)).args(more);
        let mut ship = Self::spawn(command, data);
        let mut words = more.iter();
        ship.store = words
            .find(|word| **word == "--store")
            .and_then(|_| words.next().map(|store| (*store).to_owned()));
        ship
    }

    /// The same, after a shell has done what `words` say: a limit is set, a file's mode is masked.
    pub fn start_after(data: &Path, words: &str) -> Self {
        let mut command = Command::new("sh");
        let words = format!("{words} && exec \"$0\" \"$@\"");
        command.arg("-c").arg(words).arg(program());
        command.args(serving(data));
        Self::spawn(command, data)
    }

    /// Starts a server that must not serve what is in `data`; returns what it says instead.
    #[track_caller]
    pub fn refused(data: &Path, more: &[&str]) -> String {
        let mut command = Command::new(program());
        forget_settings(&mut command);
        let mut child = command
            .args(serving(data))
            .args(more)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let mut line = String::new();
        let mut console = BufReader::new(child.stdout.take().expect("a console"));
        console.read_line(&mut line).expect("it is read");
        if !line.is_empty() {
            // It may end by itself.
            let _ = child.kill();
        }
        let output = child.wait_with_output().expect("it ends");
        assert_eq!(line, "", "it serves");
        assert_eq!(output.status.code(), Some(2));
        String::from_utf8_lossy(&output.stderr).into_owned()
    }

    fn spawn(mut command: Command, data: &Path) -> Self {
        std::fs::create_dir_all(data).expect("a folder");
        let log = File::options()
            .create(true)
            .append(true)
            .open(data.join("server.log"))
            .expect("a log");
        forget_settings(&mut command);
        let mut child = command
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
        let code = line_after(": ");
        let is_code = code
            .bytes()
            .all(|byte| byte.is_ascii_digit() || byte == b' ');
        let code = if is_code { code } else { String::new() };
        // A server that has ended may have had this port, and somebody signed in there.
        http::forget_session(&url);
        // Whoever was signed in before a restart is signed in again, as their device would.
        if let Ok(seed) = std::fs::read(data.join(SIGNED_IN))
            && let Ok(seed) = seed.try_into()
        {
            http::sign_in(&url, &SoftKey::from_seed(seed));
        }
        Self {
            child,
            console,
            url,
            authority,
            code,
            data: data.to_owned(),
            store: None,
        }
    }

    /// Starts the tests' own ship in an empty folder, with her crew on record.
    pub fn mustered(data: &Path) -> Self {
        Self::mustered_with(data, &[])
    }

    /// The same, with more flags.
    pub fn mustered_with(data: &Path, more: &[&str]) -> Self {
        std::fs::create_dir_all(data).expect("a folder");
        server::authority::make(data, SEED, None).expect("a key");
        let ship = Self::start(data, more);
        let mut authority = Hand::new(SoftKey::from_seed(SEED), "ship", vessel());
        let body = authority.says(None, vessel_body());
        ship.sign_in(SEED);
        assert_eq!(http::push(&ship.url, body.bytes()).stored, 1);
        ship
    }

    /// Makes the key of that seed the one that asks, until another does; over restarts too.
    pub fn sign_in(&self, seed: [u8; 32]) {
        http::sign_in(&self.url, &SoftKey::from_seed(seed));
        std::fs::write(self.data.join(SIGNED_IN), seed).expect("it is written");
    }

    /// Returns a one-time code for a person, made at the ship's console.
    pub fn code_for(&self, person: &str) -> String {
        let data = self.data.to_str().expect("text");
        let mut words = vec!["code", "--data", data];
        if let Some(store) = &self.store {
            words.extend(["--store", store]);
        }
        let output = run(words.into_iter().chain([person]));
        let told = String::from_utf8_lossy(&output.stdout).into_owned();
        let words = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success(), "{words}");
        let code = told
            .split(": ")
            .nth(1)
            .and_then(|rest| rest.split(" (").next());
        code.unwrap_or_else(|| panic!("{told:?} has no code"))
            .to_owned()
    }

    /// The number of its process.
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Reads the console on until a line holds `words`; returns what follows them.
    pub fn told(&mut self, words: &str) -> String {
        let mut line = String::new();
        loop {
            line.clear();
            let read = self.console.read_line(&mut line).expect("a line");
            assert_ne!(read, 0, "the console ended before {words:?}");
            if let Some(at) = line.find(words) {
                return line[at + words.len()..].trim().to_owned();
            }
        }
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
        joins_ms: None,
        leaves_ms: None,
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
        latitude_e7: -435_120_000,
        longitude_e7: -200_610_000,
        ashore: None,
    })
}
