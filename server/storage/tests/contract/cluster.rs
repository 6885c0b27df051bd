//! A PostgreSQL server of a test's own, thrown away afterwards.

use std::os::unix::fs::chown;
use std::os::unix::process::CommandExt as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use tempfile::TempDir;

/// Says, if set, that the tests may go without PostgreSQL where it is not installed.
const WITHOUT: &str = "CLEARHAWSE_WITHOUT_POSTGRES";

/// A running server with one database, reached over a socket in its folder.
pub struct Cluster {
    programs: PathBuf,
    folder: TempDir,
    owner: Option<(u32, u32)>,
}

impl Cluster {
    /// Makes and starts a server. Where PostgreSQL is not installed the test fails, unless [`WITHOUT`] says
    /// to go without: then `None` is returned.
    pub fn start() -> Option<Self> {
        let programs = programs();
        if programs.is_none() && std::env::var_os(WITHOUT).is_some() {
            eprintln!(
                "skipped: PostgreSQL's initdb and pg_ctl are not installed, and {WITHOUT} is set"
            );
            return None;
        }
        let programs = programs.unwrap_or_else(|| {
            panic!("PostgreSQL's initdb and pg_ctl are not installed; {WITHOUT}=1 goes without")
        });
        let folder = tempfile::Builder::new().prefix("clwh").tempdir().unwrap();
        let owner = owner(folder.path());
        if let Some((user, group)) = owner {
            chown(folder.path(), Some(user), Some(group)).unwrap();
        }
        let cluster = Self {
            programs,
            folder,
            owner,
        };
        let data = cluster.data();
        let data = data.to_str().unwrap();
        let superuser = [
            "-U",
            "clearhawse",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--locale=C",
            "--no-sync",
        ];
        cluster.program("initdb", &[&["-D", data], &superuser[..]].concat());
        cluster.up();
        Some(cluster)
    }

    /// Starts the server and waits until it answers.
    pub fn up(&self) {
        self.up_with("");
    }

    /// The same with more settings, as `postgres` takes them.
    pub fn up_with(&self, more: &str) {
        let socket = self.folder.path().display();
        let settings = format!("-k {socket} -c listen_addresses= -c fsync=off {more}");
        let (data, log) = (self.data(), self.folder.path().join("log"));
        let place = ["-D", data.to_str().unwrap(), "-l", log.to_str().unwrap()];
        self.program(
            "pg_ctl",
            &[&place, &["-w", "-o", &settings, "start"][..]].concat(),
        );
    }

    /// Stops the server at once, as a crash would.
    pub fn down(&self) {
        let data = self.data();
        self.program(
            "pg_ctl",
            &[
                "-D",
                data.to_str().unwrap(),
                "-m",
                "immediate",
                "-w",
                "stop",
            ],
        );
    }

    /// Kills every process of the server with SIGKILL, as a machine does that is out of memory.
    pub fn crash(&self) {
        let first = std::fs::read_to_string(self.data().join("postmaster.pid")).unwrap();
        let first = first.lines().next().unwrap().to_owned();
        let children = Command::new("pgrep").args(["-P", &first]).output().unwrap();
        let children = String::from_utf8(children.stdout).unwrap();
        let all: Vec<&str> = std::iter::once(first.as_str())
            .chain(children.lines())
            .collect();
        // One that has ended by itself meanwhile is no fault.
        let signal = |name: &str, pid: &str| {
            let mut command = Command::new("kill");
            let done = command.args([name, pid]).stderr(Stdio::null()).status();
            done.unwrap().success()
        };
        for pid in &all {
            signal("-KILL", pid);
        }
        while all.iter().any(|pid| signal("-0", pid)) {
            std::thread::sleep(std::time::Duration::from_millis(5));
        }
    }

    /// Has `psql` run statements; returns what it prints, without heads and spaces.
    pub fn sql(&self, statements: &str) -> String {
        let beside = self.programs.join("psql");
        let program = if beside.exists() {
            beside
        } else {
            PathBuf::from("psql")
        };
        let output = Command::new(program)
            .args([
                "-X",
                "-A",
                "-t",
                "-q",
                "-v",
                "ON_ERROR_STOP=1",
                "-c",
                statements,
            ])
            .arg(self.address())
            .output()
            .unwrap();
        assert!(output.status.success(), "{output:?}");
        String::from_utf8(output.stdout).unwrap().trim().to_owned()
    }

    /// Returns the address of the database.
    pub fn address(&self) -> String {
        let socket = self.folder.path().to_str().unwrap().replace('/', "%2F");
        format!("postgres://clearhawse@{socket}/postgres")
    }

    fn data(&self) -> PathBuf {
        self.folder.path().join("data")
    }

    fn program(&self, name: &str, arguments: &[&str]) {
        let mut command = Command::new(self.programs.join(name));
        command
            .args(arguments)
            .current_dir(self.folder.path())
            .env_remove("PGDATA");
        // The server inherits these; a pipe would keep the test waiting for it.
        command
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null());
        if let Some((user, group)) = self.owner {
            command.uid(user).gid(group);
        }
        let ended = command.status().unwrap();
        let log = std::fs::read_to_string(self.folder.path().join("log")).unwrap_or_default();
        assert!(ended.success(), "{name} {arguments:?}: {ended}\n{log}");
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        // A test that fails may have left it down; one that crashed leaves the file.
        if self.data().join("postmaster.pid").exists() && !std::thread::panicking() {
            self.down();
        }
    }
}

/// PostgreSQL refuses to run as root: then it runs as its own user, or as nobody.
fn owner(folder: &Path) -> Option<(u32, u32)> {
    use std::os::unix::fs::MetadataExt as _;
    if folder.metadata().unwrap().uid() != 0 {
        return None;
    }
    let users = std::fs::read_to_string("/etc/passwd").unwrap();
    let user = |name: &str| {
        let mut fields = users
            .lines()
            .map(|line| line.split(':').collect::<Vec<_>>());
        let fields = fields.find(|fields| fields[0] == name)?;
        Some((fields[2].parse().ok()?, fields[3].parse().ok()?))
    };
    user("postgres").or_else(|| user("nobody"))
}

/// Returns the folder of the newest server programs installed.
fn programs() -> Option<PathBuf> {
    let mut folders: Vec<PathBuf> = std::env::var_os("PATH")
        .map(|path| std::env::split_paths(&path).collect())
        .unwrap_or_default();
    for versions in ["/usr/lib/postgresql", "/usr/pgsql", "/opt/homebrew/opt"] {
        let Ok(entries) = std::fs::read_dir(versions) else {
            continue;
        };
        let mut versions: Vec<_> = entries
            .flatten()
            .map(|entry| entry.path().join("bin"))
            .collect();
        versions.sort();
        folders.extend(versions.into_iter().rev());
    }
    folders
        .into_iter()
        .find(|folder| folder.join("initdb").exists() && folder.join("pg_ctl").exists())
}
