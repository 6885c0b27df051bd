//! Builds the one program: the server with the web pages inside.

use std::path::PathBuf;

use crate::fault::Fault;
use crate::run::{cargo, run, stage};
use crate::{paths, site};

/// Builds everything and returns where the program is.
pub fn build() -> Result<PathBuf, Fault> {
    let site = site::build()?;
    stage("program: server with the web pages inside", || {
        run(cargo()
            .args(["build", "--package", "server", "--release"])
            .env("CLEARHAWSE_SITE", &site))
    })?;
    let binary = paths::binary();
    eprintln!("built {}", binary.display());
    Ok(binary)
}
