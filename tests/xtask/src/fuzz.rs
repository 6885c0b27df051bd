//! Looks for bytes that break a reader's properties, guided by the code that they reach.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Mutex;

use crate::fault::Fault;
use crate::machine::Machine;
use crate::run::{cargo, note, run};
use crate::{machine, needs, paths};

/// What `cargo fuzz` gives the compiler where no sanitizer is wanted: counters on every edge, and the
/// comparisons, for the engine to read.
const COVERAGE: &str = "-Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares";
/// How long each target is tried where nothing else is said, s.
const SECONDS: u64 = 60;
/// How long the tests try each target, s: enough to see that the engine still runs, and no more. Looking for
/// faults is a command of its own.
const TEST_SECONDS: u64 = 4;
/// How many targets are tried at once.
const AT_ONCE: usize = 2;
/// What bounds a target: no input is longer than a page of records need be, none takes more memory than
/// a phone has to spare, none hangs.
const BOUNDS: [&str; 5] = [
    "-max_len=65536",
    "-malloc_limit_mb=64",
    "-rss_limit_mb=1024",
    "-timeout=20",
    "-print_final_stats=1",
];

/// Tries every target, or the one that is named: `[--seconds N] [TARGET]`.
pub fn run_command(arguments: &[String]) -> Result<(), Fault> {
    let usage = || Fault::Usage {
        given: format!("fuzz {}", arguments.join(" ")),
    };
    let (mut seconds, mut named) = (SECONDS, None);
    let mut rest = arguments.iter();
    while let Some(word) = rest.next() {
        if word == "--seconds" {
            let number = rest.next().and_then(|number| number.parse().ok());
            seconds = number.ok_or_else(usage)?;
        } else if word.starts_with('-') || named.replace(word.as_str()).is_some() {
            return Err(usage());
        }
    }
    try_all(seconds, named)
}

/// Tries every target for a moment.
pub fn for_tests() -> Result<(), Fault> {
    try_all(TEST_SECONDS, None)
}

fn try_all(seconds: u64, named: Option<&str>) -> Result<(), Fault> {
    let place = Place::open()?;
    let engine = place.build()?;
    let known = place.seeds()?;
    let wanted: Vec<String> = match named {
        None => known,
        Some(name) if known.iter().any(|known| known == name) => vec![name.to_owned()],
        Some(name) => {
            return Err(Fault::NoSuchTarget {
                given: name.to_owned(),
                known: known.join(", "),
            });
        }
    };
    let waiting = Mutex::new(wanted.iter().rev().collect::<Vec<_>>());
    let failed = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..AT_ONCE {
            scope.spawn(|| {
                while let Some(name) = pop(&waiting) {
                    if place.attempt(&engine, name, seconds).is_err() {
                        push(&failed, name.clone());
                    }
                }
            });
        }
    });
    let failed = failed.into_inner().unwrap_or_default();
    if failed.is_empty() {
        Ok(())
    } else {
        Err(Fault::StagesFailed { stages: failed })
    }
}

fn pop<T>(waiting: &Mutex<Vec<T>>) -> Option<T> {
    waiting.lock().ok()?.pop()
}

fn push<T>(list: &Mutex<Vec<T>>, item: T) {
    if let Ok(mut list) = list.lock() {
        list.push(item);
    }
}

/// Where the engine's files are, apart from all other builds, as it is built with other flags.
struct Place {
    folder: PathBuf,
}

impl Place {
    fn open() -> Result<Self, Fault> {
        let folder = paths::target().join("fuzz");
        make(&folder)?;
        Ok(Self { folder })
    }

    /// Builds the engine and returns where it is.
    fn build(&self) -> Result<PathBuf, Fault> {
        let host = needs::host(&Machine::here()).ok_or(Fault::NoHost)?;
        // With the target named, what runs during the build is built without the counters.
        run(cargo()
            .args(["build", "--package", "fuzz", "--features", "engine"])
            .args([
                "--bin",
                "fuzz-engine",
                "--profile",
                "fuzz",
                "--target",
                &host,
            ])
            .arg("--target-dir")
            .arg(&self.folder)
            .env("CARGO_INCREMENTAL", "0")
            .env("RUSTFLAGS", COVERAGE))?;
        let name = format!("fuzz-engine{}", std::env::consts::EXE_SUFFIX);
        Ok(self.folder.join(host).join("fuzz").join(name))
    }

    /// Writes the seeds and returns the targets' names.
    fn seeds(&self) -> Result<Vec<String>, Fault> {
        let mut command = cargo();
        command.args([
            "run",
            "--quiet",
            "--package",
            "fuzz",
            "--bin",
            "fuzz-seeds",
            "--",
        ]);
        command.arg(self.folder.join("seeds"));
        let text = machine::output(&mut command).ok_or(Fault::NoSeeds)?;
        Ok(text.lines().map(str::to_owned).collect())
    }

    /// Tries one target; what it finds is kept in a file that is named.
    fn attempt(&self, engine: &Path, name: &str, seconds: u64) -> Result<(), Fault> {
        let corpus = self.folder.join("corpus").join(name);
        let finds = self.folder.join("finds").join(name);
        make(&corpus)?;
        make(&finds)?;
        let log = self.folder.join(format!("{name}.log"));
        let written = std::fs::File::create(&log).map_err(|source| Fault::File {
            doing: "write",
            path: log.clone(),
            source,
        })?;
        let mut command = Command::new(engine);
        command
            .args(BOUNDS)
            .arg(format!("-max_total_time={seconds}"))
            .arg(format!("-artifact_prefix={}/", finds.display()))
            .arg(&corpus)
            .arg(self.folder.join("seeds").join(name))
            .env("CLEARHAWSE_FUZZ_TARGET", name)
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(written);
        let status = command.status().map_err(|source| Fault::Spawn {
            command: engine.display().to_string(),
            source,
        })?;
        let told = String::from_utf8_lossy(&paths::read(&log)?).into_owned();
        if status.success() {
            let runs = told.lines().rev().find(|line| line.starts_with("Done "));
            note(&format!("{name:<10} {}", runs.unwrap_or("ended early")));
            return Ok(());
        }
        let lines: Vec<&str> = told.lines().collect();
        note(&format!("{name:<10} FAILED"));
        for line in &lines[lines.len().saturating_sub(40)..] {
            eprintln!("      {line}");
        }
        note(&format!(
            "keep what it found: copy it from {} to tests/fuzz/found/{name}",
            finds.display()
        ));
        Err(Fault::Command {
            command: format!("fuzz-engine {name}"),
            status,
        })
    }
}

fn make(folder: &Path) -> Result<(), Fault> {
    std::fs::create_dir_all(folder).map_err(|source| Fault::File {
        doing: "make",
        path: folder.into(),
        source,
    })
}
