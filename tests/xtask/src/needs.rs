//! What a command needs on the machine: looked for before anything is compiled, installed where we may.

use std::path::{Path, PathBuf};

use crate::fault::Fault;
use crate::machine::Machine;
use crate::run::note;

pub const WASM_TARGET: &str = "wasm32-unknown-unknown";
const OLDEST_NODE: u32 = 18;
/// Chromium without windows: the same engine with a third less to compute for each story.
const HEADLESS: &str = "chromium-headless-shell";

/// Something that has to be on the machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Need {
    CCompiler,
    WasmTarget,
    Rustfmt,
    Clippy,
    CppCompiler,
    Node,
    Chromium,
    Certutil,
    Python,
    PostgreSql,
    Firefox,
    WebKitDriver,
    Xvfb,
}

/// How a need is met.
#[derive(Debug, Clone, Copy)]
enum Remedy {
    /// Arguments for `rustup`.
    Rustup(&'static [&'static str]),
    /// Packages of Debian's.
    Packages(&'static [&'static str]),
}

impl Need {
    fn name(self) -> &'static str {
        match self {
            Self::CCompiler => "a C compiler",
            Self::WasmTarget => "the compiler's target wasm32-unknown-unknown",
            Self::Rustfmt => "rustfmt",
            Self::Clippy => "clippy",
            Self::CppCompiler => "a C++ compiler",
            Self::Node => "Node with npm, 18 or newer",
            Self::Chromium => "Chromium",
            Self::Certutil => "certutil",
            Self::Python => "Python with venv and pip",
            Self::PostgreSql => "PostgreSQL's initdb and pg_ctl",
            Self::Firefox => "Firefox",
            Self::WebKitDriver => "WebKitWebDriver",
            Self::Xvfb => "Xvfb",
        }
    }

    fn is_met(self, machine: &Machine) -> bool {
        let any = |variable: &str, names: &[&str]| {
            std::env::var_os(variable).is_some()
                || names.iter().any(|name| machine.find(name).is_some())
        };
        match self {
            Self::CCompiler => any("CC", &["cc", "gcc", "clang"]),
            Self::CppCompiler => any("CXX", &["c++", "g++", "clang++"]),
            Self::WasmTarget => has_wasm_target(machine),
            Self::Rustfmt => machine.output("rustfmt", &["--version"]).is_some(),
            Self::Clippy => machine.output("cargo-clippy", &["--version"]).is_some(),
            Self::Node => node(machine).is_some(),
            Self::Chromium => has_chromium(machine),
            Self::Certutil => machine.find("certutil").is_some(),
            Self::Python => python(machine).is_some(),
            Self::PostgreSql => has_postgresql(machine),
            Self::Firefox => firefox(machine).is_some(),
            Self::WebKitDriver => machine.find("WebKitWebDriver").is_some(),
            Self::Xvfb => machine.find("Xvfb").is_some(),
        }
    }

    fn remedy(self) -> Remedy {
        match self {
            Self::WasmTarget => Remedy::Rustup(&["target", "add", WASM_TARGET]),
            Self::Rustfmt => Remedy::Rustup(&["component", "add", "rustfmt"]),
            Self::Clippy => Remedy::Rustup(&["component", "add", "clippy"]),
            Self::CCompiler => Remedy::Packages(&["gcc", "libc6-dev"]),
            Self::CppCompiler => Remedy::Packages(&["g++"]),
            Self::Node => Remedy::Packages(&["nodejs", "npm"]),
            Self::Chromium => Remedy::Packages(&[HEADLESS]),
            Self::Certutil => Remedy::Packages(&["libnss3-tools"]),
            Self::Python => Remedy::Packages(&["python3", "python3-venv"]),
            Self::PostgreSql => Remedy::Packages(&["postgresql"]),
            Self::Firefox => Remedy::Packages(&["firefox-esr"]),
            Self::WebKitDriver => Remedy::Packages(&["webkit2gtk-driver"]),
            Self::Xvfb => Remedy::Packages(&["xvfb"]),
        }
    }

    /// Says what a person would do who has to meet it by hand.
    fn advice(self) -> String {
        let elsewhere = match self {
            Self::Node => ", or from nodejs.org",
            Self::Chromium => ", or set CHROMIUM to the path of a Chromium or Chrome",
            Self::Firefox => ", or set FIREFOX to the path of one",
            _ => "",
        };
        match self.remedy() {
            Remedy::Rustup(arguments) => format!(
                "`rustup {}` on a network, or the like from where your Rust came",
                arguments.join(" ")
            ),
            Remedy::Packages(packages) => format!(
                "from the system's packages (Debian: `apt-get install {}`){elsewhere}",
                packages.join(" ")
            ),
        }
    }

    /// Tries to meet it; whether that helped is for a second look.
    fn install(self, machine: &Machine) {
        let done = match self.remedy() {
            Remedy::Rustup(arguments) if machine.find("rustup").is_some() => {
                note(&format!("{} is missing: adding it", self.name()));
                machine.rustup(arguments)
            }
            Remedy::Packages(packages) if machine.installs_packages => {
                let list = packages.join(", ");
                note(&format!("{} is missing: installing {list}", self.name()));
                machine.install(packages)
            }
            _ => return,
        };
        if let Err(fault) = done {
            note(&crate::fault::with_causes(&fault));
        }
    }
}

/// Sees to it that everything in `needs` is on the machine, and installs what we may.
///
/// # Errors
/// [`Fault::Missing`], one line that names everything still missing and how to install it.
pub fn meet(machine: &Machine, needs: &[Need]) -> Result<(), Fault> {
    let missing: Vec<String> = needs
        .iter()
        .filter(|need| !is_met_at_last(machine, **need))
        .map(|need| format!("{}: {}", need.name(), need.advice()))
        .collect();
    if missing.is_empty() {
        return Ok(());
    }
    Err(Fault::Missing {
        what: missing.join("; "),
    })
}

/// Tries to meet needs that the tests can do without, one after the other, and returns the first that is not met,
/// with how to meet it.
pub fn first_lacking(machine: &Machine, needs: &[Need]) -> Option<String> {
    let lacking = needs.iter().find(|need| !is_met_at_last(machine, **need))?;
    Some(format!("{}: {}", lacking.name(), lacking.advice()))
}

fn is_met_at_last(machine: &Machine, need: Need) -> bool {
    need.is_met(machine) || {
        need.install(machine);
        need.is_met(machine)
    }
}

/// Whether the compiler has its own libraries for the browser's target.
fn has_wasm_target(machine: &Machine) -> bool {
    let asked = ["--print", "target-libdir", "--target", WASM_TARGET];
    let folder = machine.output("rustc", &asked);
    folder.is_some_and(|folder| Path::new(folder.trim()).is_dir())
}

/// Node and its package manager.
#[derive(Debug)]
pub struct Node {
    pub node: PathBuf,
    pub npm: PathBuf,
}

/// Returns a Node that is new enough.
pub fn node(machine: &Machine) -> Option<Node> {
    let text = machine.output("node", &["--version"])?;
    let major = text.trim().trim_start_matches('v').split('.').next()?;
    (major.parse::<u32>().ok()? >= OLDEST_NODE).then_some(())?;
    Some(Node {
        node: machine.find("node")?,
        npm: machine.find("npm")?,
    })
}

/// Returns the program that the variable names, or else the first found: by name on the path, or where macOS has it.
fn chosen(machine: &Machine, variable: &str, names: &[&str], on_a_mac: &[&str]) -> Option<PathBuf> {
    if let Some(chosen) = std::env::var_os(variable).filter(|path| !path.is_empty()) {
        return Some(PathBuf::from(chosen)).filter(|path| path.is_file());
    }
    let found = names.iter().find_map(|name| machine.find(name));
    found.or_else(|| on_a_mac.iter().map(PathBuf::from).find(|p| p.is_file()))
}

/// Whether there is a Chromium, and the one that is quick where we may install it.
fn has_chromium(machine: &Machine) -> bool {
    let is_chosen = std::env::var_os("CHROMIUM").is_some_and(|path| !path.is_empty());
    let has_quick = machine.find(HEADLESS).is_some();
    chromium(machine).is_some() && (is_chosen || has_quick || !machine.installs_packages)
}

/// Returns a Chromium: the one that `CHROMIUM` names, or the first found.
pub fn chromium(machine: &Machine) -> Option<PathBuf> {
    let names = [
        HEADLESS,
        "chromium",
        "chromium-browser",
        "google-chrome",
        "google-chrome-stable",
    ];
    let on_a_mac = [
        "/Applications/Chromium.app/Contents/MacOS/Chromium",
        "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    ];
    chosen(machine, "CHROMIUM", &names, &on_a_mac)
}

/// Returns a Firefox: the one that `FIREFOX` names, or the first found.
pub fn firefox(machine: &Machine) -> Option<PathBuf> {
    let on_a_mac = ["/Applications/Firefox.app/Contents/MacOS/firefox"];
    chosen(machine, "FIREFOX", &["firefox-esr", "firefox"], &on_a_mac)
}

/// Returns a Python that can make virtual environments.
pub fn python(machine: &Machine) -> Option<PathBuf> {
    let can_make_them = ["-c", "import venv, ensurepip"];
    ["python3", "python"]
        .into_iter()
        .find(|name| machine.output(name, &can_make_them).is_some())
        .and_then(|name| machine.find(name))
}

/// Whether PostgreSQL's programs are where the tests look for them: on the path, or where Debian, Red Hat and
/// Homebrew put them.
fn has_postgresql(machine: &Machine) -> bool {
    if machine.find("initdb").is_some() && machine.find("pg_ctl").is_some() {
        return true;
    }
    ["/usr/lib/postgresql", "/usr/pgsql", "/opt/homebrew/opt"]
        .into_iter()
        .filter_map(|folder| std::fs::read_dir(folder).ok())
        .flatten()
        .filter_map(|entry| Some(entry.ok()?.path().join("bin/initdb")))
        .any(|initdb| initdb.is_file())
}

/// Returns the compiler's name for this machine.
pub fn host(machine: &Machine) -> Option<String> {
    let told = machine.output("rustc", &["-vV"])?;
    let host = told.lines().find_map(|line| line.strip_prefix("host: "));
    host.map(str::to_owned)
}

#[cfg(all(test, unix))]
mod tests;
