//! Finds the programs that the tests need, and installs them where that is ours to do.

use std::path::{Path, PathBuf};
use std::process::Command;

use crate::fault::Fault;
use crate::run::{note, run};

const CHROMIUM_NAMES: [&str; 4] = [
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
];
const OLDEST_NODE: u32 = 18;

/// Node and its package manager.
#[derive(Debug)]
pub struct Node {
    pub node: PathBuf,
    pub npm: PathBuf,
}

/// Returns a Node that is new enough, installing it if this is Debian and we are root.
pub fn node() -> Result<Node, Fault> {
    if let Some(found) = find_node() {
        return Ok(found);
    }
    let missing: Vec<&str> = [("node", "nodejs"), ("npm", "npm")]
        .into_iter()
        .filter_map(|(name, package)| on_path(name).is_none().then_some(package))
        .collect();
    let advice = format!(
        "install Node {OLDEST_NODE} or newer with npm (nodejs.org, or the system's packages)"
    );
    install("Node", &missing, &advice)?;
    find_node().ok_or(Fault::Missing {
        tool: "Node",
        advice,
    })
}

fn find_node() -> Option<Node> {
    let node = on_path("node")?;
    let text = output(Command::new(&node).arg("--version"))?;
    let major = text
        .trim()
        .trim_start_matches('v')
        .split('.')
        .next()?
        .parse::<u32>()
        .ok()?;
    (major >= OLDEST_NODE).then_some(())?;
    Some(Node {
        node,
        npm: on_path("npm")?,
    })
}

/// Returns a Chromium: the one that `CHROMIUM` names, or the first found.
pub fn chromium() -> Result<PathBuf, Fault> {
    let advice = "install Chromium or Chrome, or set CHROMIUM to its path";
    if let Some(chosen) = std::env::var_os("CHROMIUM").filter(|path| !path.is_empty()) {
        let path = PathBuf::from(chosen);
        if path.is_file() {
            return Ok(path);
        }
        let advice = format!("CHROMIUM is {}, which is not a file", path.display());
        return Err(Fault::Missing {
            tool: "Chromium",
            advice,
        });
    }
    let find = || {
        CHROMIUM_NAMES
            .iter()
            .find_map(|name| on_path(name))
            .or_else(on_a_mac)
    };
    if let Some(found) = find() {
        return Ok(found);
    }
    install("Chromium", &["chromium"], advice)?;
    find().ok_or(Fault::Missing {
        tool: "Chromium",
        advice: advice.to_owned(),
    })
}

fn on_a_mac() -> Option<PathBuf> {
    [
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    ]
    .iter()
    .map(PathBuf::from)
    .find(|path| path.is_file())
}

/// Sees to it that there is a C++ compiler, for the fuzzing engine.
pub fn cpp_compiler() -> Result<(), Fault> {
    let names = ["c++", "g++", "clang++"];
    if std::env::var_os("CXX").is_some() || names.iter().any(|name| on_path(name).is_some()) {
        return Ok(());
    }
    install("a C++ compiler", &["g++"], "install g++ or clang++")
}

/// Returns the compiler's name for this machine.
pub fn host() -> Result<String, Fault> {
    let told = output(Command::new("rustc").arg("-vV")).unwrap_or_default();
    let host = told.lines().find_map(|line| line.strip_prefix("host: "));
    host.map(str::to_owned).ok_or(Fault::Missing {
        tool: "rustc",
        advice: "install Rust with rustup".to_owned(),
    })
}

/// Sees to it that there is `certutil`, by which a browser on Linux is told whom to trust.
pub fn certutil() -> Result<(), Fault> {
    if on_path("certutil").is_some() {
        return Ok(());
    }
    let advice = "install certutil, which belongs to NSS (Debian: libnss3-tools)";
    install("certutil", &["libnss3-tools"], advice)
}

/// Returns a Python that can make virtual environments.
pub fn python() -> Result<PathBuf, Fault> {
    let advice = "install Python 3.9 or newer with its venv and pip";
    let find = || {
        let python = on_path("python3").or_else(|| on_path("python"))?;
        output(Command::new(&python).args(["-c", "import venv, ensurepip"]))?;
        Some(python)
    };
    if let Some(found) = find() {
        return Ok(found);
    }
    install("Python", &["python3", "python3-venv"], advice)?;
    find().ok_or(Fault::Missing {
        tool: "Python",
        advice: advice.to_owned(),
    })
}

/// Returns `wasm-opt` if there is one that understands what the compiler emits today.
pub fn wasm_opt() -> Option<(PathBuf, u32)> {
    const OLDEST: u32 = 116; // older ones know the features under other names, or not at all
    let path = on_path("wasm-opt")?;
    let text = output(Command::new(&path).arg("--version"))?;
    let version = text
        .split_whitespace()
        .find_map(|word| word.parse::<u32>().ok())?;
    if version < OLDEST {
        note(&format!(
            "wasm-opt {version} is older than {OLDEST}: not used"
        ));
        return None;
    }
    Some((path, version))
}

fn install(tool: &'static str, packages: &[&str], advice: &str) -> Result<(), Fault> {
    let is_root = output(Command::new("id").arg("-u")).is_some_and(|id| id.trim() == "0");
    if packages.is_empty() || !is_root || !Path::new("/etc/debian_version").exists() {
        return Err(Fault::Missing {
            tool,
            advice: advice.to_owned(),
        });
    }
    note(&format!(
        "{tool} is missing: installing {}",
        packages.join(", ")
    ));
    let apt = || {
        let mut command = Command::new("apt-get");
        command
            .env("DEBIAN_FRONTEND", "noninteractive")
            .stdin(std::process::Stdio::null());
        command
    };
    run(apt().args(["update", "--quiet"]))?;
    run(apt()
        .args(["install", "--yes", "--quiet", "--no-install-recommends"])
        .args(packages))
}

fn on_path(name: &str) -> Option<PathBuf> {
    let file = format!("{name}{}", std::env::consts::EXE_SUFFIX);
    let mut candidates = vec![file];
    if cfg!(windows) {
        candidates.push(format!("{name}.cmd"));
    }
    std::env::split_paths(&std::env::var_os("PATH")?)
        .flat_map(|folder| candidates.iter().map(move |file| folder.join(file)))
        .find(|path| path.is_file())
}

/// Returns what a command prints, if it succeeds.
pub fn output(command: &mut Command) -> Option<String> {
    let done = command.output().ok()?;
    done.status
        .success()
        .then(|| String::from_utf8_lossy(&done.stdout).into_owned())
}
