//! The machine that we run on: what is on its path, who we are there, and what we may install.

use std::cell::Cell;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::fault::Fault;
use crate::run::run;

/// A machine. Tests make one whose path holds stand-ins.
#[derive(Debug)]
pub struct Machine {
    /// The folders in which programs are looked for, in their order, as in `PATH`.
    pub path: OsString,
    /// Whether packages can be installed: we are root, and this is Debian or made from it.
    pub installs_packages: bool,
    /// Whether the list of packages was fetched by this run.
    is_list_fresh: Cell<bool>,
}

impl Machine {
    /// Returns the machine that this program runs on.
    pub fn here() -> Self {
        let is_root = output(Command::new("id").arg("-u")).is_some_and(|id| id.trim() == "0");
        let path = std::env::var_os("PATH").unwrap_or_default();
        Self::new(path, is_root && Path::new("/etc/debian_version").exists())
    }

    pub fn new(path: OsString, installs_packages: bool) -> Self {
        Self {
            path,
            installs_packages,
            is_list_fresh: Cell::new(false),
        }
    }

    /// Returns where the program of that name is.
    pub fn find(&self, name: &str) -> Option<PathBuf> {
        let mut candidates = vec![format!("{name}{}", std::env::consts::EXE_SUFFIX)];
        if cfg!(windows) {
            candidates.push(format!("{name}.cmd"));
        }
        std::env::split_paths(&self.path)
            .flat_map(|folder| candidates.iter().map(move |file| folder.join(file)))
            .find(|path| path.is_file())
    }

    /// Returns what a program prints, if it is there and succeeds.
    pub fn output(&self, name: &str, arguments: &[&str]) -> Option<String> {
        output(self.command(&self.find(name)?).args(arguments))
    }

    /// Runs `rustup` with these arguments, if there is a rustup.
    ///
    /// # Errors
    /// [`Fault::Command`] if it fails.
    pub fn rustup(&self, arguments: &[&str]) -> Result<(), Fault> {
        match self.find("rustup") {
            Some(rustup) => run(self.command(&rustup).args(arguments)),
            None => Ok(()),
        }
    }

    /// Installs packages of Debian's, after fetching the list of them once.
    ///
    /// # Errors
    /// [`Fault::Command`] if `apt-get` fails, [`Fault::Spawn`] if there is none.
    pub fn install(&self, packages: &[&str]) -> Result<(), Fault> {
        let apt = self.find("apt-get").unwrap_or("apt-get".into());
        let apt = || {
            let mut command = self.command(&apt);
            command
                .env("DEBIAN_FRONTEND", "noninteractive")
                .stdin(Stdio::null());
            command
        };
        if !self.is_list_fresh.replace(true) {
            run(apt().args(["update", "--quiet"]))?;
        }
        run(apt()
            .args(["install", "--yes", "--quiet", "--no-install-recommends"])
            .args(packages))
    }

    fn command(&self, program: &Path) -> Command {
        let mut command = Command::new(program);
        command
            .env("PATH", &self.path)
            .current_dir(crate::paths::root());
        command
    }
}

/// Returns what a command prints, if it succeeds.
pub fn output(command: &mut Command) -> Option<String> {
    let done = command.output().ok()?;
    done.status
        .success()
        .then(|| String::from_utf8_lossy(&done.stdout).into_owned())
}
