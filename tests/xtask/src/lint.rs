//! Formatting, clippy with warnings denied for both targets, and the packages that we build on.

use crate::fault::Fault;
use crate::run::{self, cargo, stage};
use crate::supply;

const DENY: [&str; 3] = ["--", "-D", "warnings"];
const WASM: [&str; 2] = ["--target", "wasm32-unknown-unknown"];

/// Runs every check; the first that fails ends it.
pub fn run() -> Result<(), Fault> {
    stage("formatting", || {
        run::run(cargo().args(["fmt", "--all", "--check"]))
    })?;
    stage("supply chain: licences, sources, duplicates", supply::check)?;
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
