//! Builds the one program: the server with the web pages inside.

use std::path::PathBuf;

use crate::fault::Fault;
use crate::run::{cargo, run, stage};
use crate::{paths, site};

/// How the compiler makes the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Profile {
    /// As it is used.
    Release,
    /// As the tests of the crates have compiled most of it already. A release takes as long again.
    Dev,
}

impl Profile {
    /// What cargo calls it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Release => "release",
            Self::Dev => "dev",
        }
    }

    /// Where cargo puts what it makes so, within its target folder.
    pub fn folder(self) -> &'static str {
        match self {
            Self::Release => "release",
            Self::Dev => "debug",
        }
    }
}

/// Builds everything and returns where the program is.
pub fn build(profile: Profile) -> Result<PathBuf, Fault> {
    let site = site::build()?;
    stage("program: server with the web pages inside", || {
        run(cargo()
            .args(["build", "--package", "server", "--profile", profile.name()])
            .env("CLEARHAWSE_SITE", &site))
    })?;
    let binary = paths::binary(profile.folder());
    eprintln!("built {}", binary.display());
    Ok(binary)
}
