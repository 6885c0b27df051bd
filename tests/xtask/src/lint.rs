//! Formatting and clippy, warnings denied, for both targets.

use crate::fault::Fault;
use crate::run::{self, cargo, stage};

const DENY: [&str; 3] = ["--", "-D", "warnings"];
const WASM: [&str; 2] = ["--target", "wasm32-unknown-unknown"];

/// Runs every check; the first that fails ends it.
pub fn run() -> Result<(), Fault> {
    stage("formatting", || {
        run::run(cargo().args(["fmt", "--all", "--check"]))
    })?;
    stage("clippy: native", || {
        run::run(
            cargo()
                .args([
                    "clippy",
                    "--workspace",
                    "--exclude",
                    "web",
                    "--exclude",
                    "store",
                ])
                .arg("--all-targets")
                .args(DENY),
        )
    })?;
    stage("clippy: wasm", || {
        run::run(
            cargo()
                .args([
                    "clippy",
                    "--package",
                    "web",
                    "--package",
                    "store",
                    "--package",
                    "ui",
                ])
                .args(["--features", "ui/csr"])
                .args(WASM)
                .args(DENY),
        )
    })
}
