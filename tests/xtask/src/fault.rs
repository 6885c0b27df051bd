//! What can go wrong while building, testing or measuring.

use std::error::Error;
use std::fmt::Write as _;
use std::io;
use std::path::PathBuf;

/// Why a command of this program failed.
#[derive(Debug, thiserror::Error)]
pub enum Fault {
    #[error("no such command: `{given}`; `cargo xtask help` lists them")]
    Usage { given: String },
    #[error("no such test stage: `{given}`; there are {known}")]
    NoSuchStage { given: String, known: String },
    #[error("cannot {doing} {}", path.display())]
    File {
        doing: &'static str,
        path: PathBuf,
        source: io::Error,
    },
    #[error("cannot run `{command}`")]
    Spawn { command: String, source: io::Error },
    #[error("`{command}` failed: {status}")]
    Command {
        command: String,
        status: std::process::ExitStatus,
    },
    #[error("`{command}` had not ended after {seconds} s, and was ended")]
    TooLong { command: String, seconds: u64 },
    #[error("missing on this machine: {what}")]
    Missing { what: String },
    #[error("no bindings from {}: {reason}", wasm.display())]
    Bindings { wasm: PathBuf, reason: String },
    #[error("{place}: {reason}")]
    Style { place: String, reason: String },
    #[error("{place} names `{target}`, which is not a file under public/")]
    Reference { place: String, target: String },
    #[error("{} is not JSON", path.display())]
    Json {
        path: PathBuf,
        source: serde_json::Error,
    },
    #[error("cannot compress {name}")]
    Compress { name: String, source: io::Error },
    #[error("no such fuzz target: `{given}`; there are {known}")]
    NoSuchTarget { given: String, known: String },
    #[error("the packages that we build on:\n      {}", breaches.join("\n      "))]
    Supply { breaches: Vec<String> },
    #[error("`cargo metadata` failed")]
    NoMetadata,
    #[error("`rustc -vV` names no host")]
    NoHost,
    #[error("the fuzz targets' seeds cannot be written")]
    NoSeeds,
    #[error("{folder} holds no file that ends in {ending}, so nothing was tested")]
    NothingToRun {
        folder: &'static str,
        ending: &'static str,
    },
    #[error("failed: {}", stages.join(", "))]
    StagesFailed { stages: Vec<String> },
    #[error(
        "the program grew: {what} is {is} bytes in brotli, over the ceiling of {most} in \
         tests/xtask/wasm-ceiling.json, which only goes down"
    )]
    OverCeiling {
        what: &'static str,
        is: usize,
        most: usize,
    },
    #[error("over their limits: {}", benches.join(", "))]
    OverLimit { benches: Vec<String> },
    #[error("`{command}` measured nothing")]
    NothingMeasured { command: String },
}

/// Returns the fault's message followed by those of its causes.
pub fn with_causes(fault: &Fault) -> String {
    let mut text = fault.to_string();
    let mut cause = fault.source();
    while let Some(error) = cause {
        write!(text, ": {error}").expect("invariant: writing to a string cannot fail");
        cause = error.source();
    }
    text
}
