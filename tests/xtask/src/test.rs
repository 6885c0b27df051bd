//! Runs every test, or the stages asked for, and says at the end how each went.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::thread;
use std::time::Duration;

use crate::fault::{Fault, with_causes};
use crate::machine::Machine;
use crate::needs::{self, Need};
use crate::run::{cargo, note, stage};
use crate::{bench, fuzz, paths, program, run};

/// A part of the tests that can be run by itself.
struct Stage {
    name: &'static str,
    what: &'static str,
    /// What has to be on the machine.
    needs: &'static [Need],
    /// What is left untried where its needs cannot be met.
    wishes: &'static [Wish],
    work: fn() -> Result<(), Fault>,
}

/// What part of a stage needs, without which the rest goes on.
struct Wish {
    /// What is not tried then.
    untried: &'static str,
    needs: &'static [Need],
}

const IN_FIREFOX: Wish = Wish {
    untried: "a phone with Firefox",
    needs: &[Need::Firefox],
};
const IN_WEBKIT: Wish = Wish {
    untried: "a phone with WebKit",
    needs: &[Need::WebKitDriver, Need::Xvfb],
};

const STAGES: [Stage; 6] = [
    Stage {
        name: "native",
        what: "unit, property and server tests",
        needs: &[Need::CCompiler],
        wishes: &[Wish {
            untried: "the store of an office on PostgreSQL",
            needs: &[Need::PostgreSql],
        }],
        work: native,
    },
    Stage {
        name: "wasm",
        what: "pure crates and the browser's compile for wasm",
        needs: &[Need::WasmTarget],
        wishes: &[],
        work: wasm,
    },
    Stage {
        name: "browser",
        what: "stories in a real browser",
        needs: &[
            Need::WasmTarget,
            Need::CCompiler,
            Need::Node,
            Need::Chromium,
            Need::Certutil,
        ],
        wishes: &[IN_FIREFOX, IN_WEBKIT],
        work: browser,
    },
    Stage {
        name: "outside",
        what: "an exported file, checked by software that is not ours",
        needs: &[Need::WasmTarget, Need::CCompiler, Need::Python],
        wishes: &[],
        work: outside,
    },
    Stage {
        name: "bench",
        what: "a short round of every benchmark, whatever the times",
        needs: &[
            Need::WasmTarget,
            Need::CCompiler,
            Need::Node,
            Need::Chromium,
        ],
        wishes: &[],
        work: bench::short,
    },
    Stage {
        name: "fuzz",
        what: "readers of foreign bytes, some seconds each",
        needs: &[Need::CCompiler, Need::CppCompiler],
        wishes: &[],
        work: fuzz::for_tests,
    },
];

/// Returns what has to be on the machine for the stages asked for.
pub fn needs(arguments: &[String]) -> Vec<Need> {
    let wanted = wanted(arguments).unwrap_or_default();
    let mut needs: Vec<Need> = STAGES
        .iter()
        .filter(|stage| wanted.is_empty() || wanted.contains(&stage.name))
        .flat_map(|stage| stage.needs.iter().copied())
        .collect();
    needs.sort_unstable();
    needs.dedup();
    needs
}

/// Runs the stages; a failed one does not keep the others from running. The last line says what was not tried.
pub fn run(arguments: &[String]) -> Result<(), Fault> {
    let wanted = wanted(arguments)?;
    let mut failed = Vec::new();
    let mut summary = Vec::new();
    let mut untried = Vec::new();
    // The pages' program is linked on one processor for minutes: that is done beside the first stages.
    let mut pages = wanted.is_empty().then(|| thread::spawn(build_pages));
    for Stage {
        name,
        what,
        wishes,
        work,
        ..
    } in STAGES
    {
        if !wanted.is_empty() && !wanted.contains(&name) {
            continue;
        }
        untried.extend(ungranted(&Machine::here(), wishes));
        if name == "browser"
            && let Some(pages) = pages.take()
        {
            let _ = pages.join();
        }
        match stage(&format!("test {name}: {what}"), work) {
            Ok(()) => summary.push(format!("{name:<8} passed")),
            Err(fault) => {
                summary.push(format!("{name:<8} FAILED  {}", with_causes(&fault)));
                failed.push(name.to_owned());
            }
        }
    }
    eprintln!("==> summary");
    for line in summary {
        note(&line);
    }
    if !untried.is_empty() {
        note(&format!("NOT tried here: {}", untried.join("; ")));
    }
    if failed.is_empty() {
        Ok(())
    } else {
        Err(Fault::StagesFailed { stages: failed })
    }
}

/// Builds the pages in a process of its own. Where it fails, the stage that needs them builds them again and says why.
fn build_pages() {
    if let Ok(program) = std::env::current_exe() {
        let mut site = Command::new(program);
        let _ = run::run_apart(site.arg("site").current_dir(paths::root()), LONGEST);
    }
}

/// Returns what is left untried on this machine, each with what would have to be installed for it.
fn ungranted(machine: &Machine, wishes: &[Wish]) -> Vec<String> {
    let lacking = |wish: &Wish| {
        let what = needs::first_lacking(machine, wish.needs)?;
        Some(format!("{} ({what})", wish.untried))
    };
    wishes.iter().filter_map(lacking).collect()
}

fn wanted(arguments: &[String]) -> Result<Vec<&'static str>, Fault> {
    let mut wanted = Vec::new();
    for pair in arguments.chunks(2) {
        let [flag, name] = pair else {
            return Err(Fault::Usage {
                given: format!("test {}", arguments.join(" ")),
            });
        };
        if flag != "--only" {
            return Err(Fault::Usage {
                given: format!("test {flag}"),
            });
        }
        let known = STAGES.iter().map(|stage| stage.name);
        let stage = known.clone().find(|known| known == name);
        wanted.push(stage.ok_or_else(|| Fault::NoSuchStage {
            given: name.clone(),
            known: known.collect::<Vec<_>>().join(", "),
        })?);
    }
    Ok(wanted)
}

fn native() -> Result<(), Fault> {
    run::run(cargo().args([
        "test",
        "--workspace",
        "--exclude",
        "web",
        "--exclude",
        "store",
    ]))
}

fn wasm() -> Result<(), Fault> {
    let check = |packages: &[&str]| {
        let mut command = cargo();
        command.args(["check", "--target", "wasm32-unknown-unknown"]);
        for package in packages {
            command.args(["--package", package]);
        }
        run::run(&mut command)
    };
    check(&["seamanship", "procedure", "record", "journal"])?;
    check(&["store", "web"])
}

fn browser() -> Result<(), Fault> {
    let (node, chromium) = browser_programs()?;
    let binary = program::build(program::Profile::Dev)?;
    let folder = paths::root().join("tests/browser");
    install_packages(&node, &folder)?;
    let here = Machine::here();
    let engines = [
        ("FIREFOX", needs::firefox(&here)),
        ("WEBKIT_DRIVER", here.find("WebKitWebDriver")),
        ("XVFB", here.find("Xvfb")),
    ];
    run_each("tests/browser", ".test.mjs", STORIES_AT_ONCE, |file| {
        let mut command = Command::new(&node.node);
        command.args(["--test", "--test-reporter=spec"]);
        command.arg(file).current_dir(&folder);
        command.env("CLEARHAWSE_SITE", paths::site());
        command
            .env("CLEARHAWSE_BIN", &binary)
            .env("CHROMIUM", &chromium);
        // The story of an engine that is not here is skipped; the last line says so.
        for (name, program) in &engines {
            command.env(name, program.as_deref().unwrap_or(Path::new("")));
        }
        command
    })
}

/// Returns Node and the browser, which were looked for before.
pub fn browser_programs() -> Result<(needs::Node, PathBuf), Fault> {
    let here = Machine::here();
    needs::node(&here)
        .zip(needs::chromium(&here))
        .ok_or_else(|| Fault::Missing {
            what: "Node or Chromium, which was there a moment ago".to_owned(),
        })
}

/// Installs what `package-lock.json` names, unless that was done since it last changed.
pub fn install_packages(node: &needs::Node, folder: &Path) -> Result<(), Fault> {
    let lock = paths::read(&folder.join("package-lock.json"))?;
    let stamp = folder.join("node_modules/.installed-lock");
    if std::fs::read(&stamp).is_ok_and(|installed| installed == lock) {
        return Ok(());
    }
    run::run(
        Command::new(&node.npm)
            .args(["ci", "--no-audit", "--no-fund"])
            .current_dir(folder),
    )?;
    paths::write(&stamp, &lock)
}

fn outside() -> Result<(), Fault> {
    let python = needs::python(&Machine::here()).ok_or_else(|| Fault::Missing {
        what: "Python, which was there a moment ago".to_owned(),
    })?;
    let binary = program::build(program::Profile::Dev)?;
    let folder = paths::root().join("tests/outside");
    let python = environment(&python, &folder.join("requirements.txt"))?;
    run_each("tests/outside", "_test.py", 1, |file| {
        let mut command = Command::new(&python);
        command
            .arg(file)
            .current_dir(&folder)
            .env("CLEARHAWSE_BIN", &binary);
        command.env("PYTHONDONTWRITEBYTECODE", "1");
        command
    })
}

/// Makes a virtual environment with the required packages, unless it is there already.
fn environment(python: &Path, requirements: &Path) -> Result<PathBuf, Fault> {
    let wanted = paths::read(requirements)?;
    let folder = paths::target().join("outside-venv");
    let own = folder.join(if cfg!(windows) {
        "Scripts/python.exe"
    } else {
        "bin/python"
    });
    let stamp = folder.join("installed-requirements.txt");
    if std::fs::read(&stamp).is_ok_and(|installed| installed == wanted) {
        return Ok(own);
    }
    run::run(
        Command::new(python)
            .args(["-m", "venv", "--clear"])
            .arg(&folder),
    )?;
    run::run(
        Command::new(&own)
            .args([
                "-m",
                "pip",
                "install",
                "--quiet",
                "--disable-pip-version-check",
            ])
            .arg("--requirement")
            .arg(requirements),
    )?;
    paths::write(&stamp, &wanted)?;
    Ok(own)
}

/// How many browser files run beside each other: a story waits for its page about half of the time.
const STORIES_AT_ONCE: usize = 3;

/// After how long a file is given up, with words: one that waits for ever would take the whole run with it.
const LONGEST: Duration = Duration::from_mins(25);

/// Stories of several minutes each. They begin first, so that none of them runs alone at the stage's end.
const LONG_STORIES: [&str; 4] = [
    "locker.test.mjs",
    "looks.test.mjs",
    "again.test.mjs",
    "engines.test.mjs",
];

/// Runs the command made for each file in `folder` whose name ends so, at most `at_once` of them beside each
/// other; all run, even if one fails.
///
/// Where files run beside each other, one that failed runs once more with the machine to itself: a story that gave
/// up waiting on a full machine is then told from one that is wrong. What passed only then is named at the end.
fn run_each(
    folder: &'static str,
    ending: &'static str,
    at_once: usize,
    command: impl Fn(&Path) -> Command + Sync,
) -> Result<(), Fault> {
    let listed = std::fs::read_dir(paths::root().join(folder)).map_err(|source| Fault::File {
        doing: "list",
        path: folder.into(),
        source,
    })?;
    let mut files: Vec<PathBuf> = listed
        .filter_map(|entry| Some(entry.ok()?.path()))
        .filter(|path| path.to_string_lossy().ends_with(ending))
        .collect();
    let place = |file: &PathBuf| {
        let mut long = LONG_STORIES.iter();
        let among_long = long.position(|story| *story == name_of(file));
        (among_long.unwrap_or(LONG_STORIES.len()), file.clone())
    };
    files.sort_by_key(place);
    if files.is_empty() {
        return Err(Fault::NothingToRun { folder, ending });
    }
    let next = AtomicUsize::new(0);
    let failed = Mutex::new(Vec::new());
    let work = || {
        while let Some(file) = files.get(next.fetch_add(1, Ordering::Relaxed)) {
            if run::run_apart(&mut command(file), LONGEST).is_err() {
                let mut failed = failed.lock().unwrap_or_else(PoisonError::into_inner);
                failed.push(file.clone());
            }
        }
    };
    thread::scope(|scope| {
        for _ in 0..at_once {
            scope.spawn(work);
        }
    });
    let mut failed = failed.into_inner().unwrap_or_else(PoisonError::into_inner);
    failed.sort();
    if at_once > 1 {
        failed.retain(|file| {
            let fails_again = run::run_apart(&mut command(file), LONGEST).is_err();
            if !fails_again {
                run::note(&format!(
                    "{} passed only with the machine to itself",
                    name_of(file)
                ));
            }
            fails_again
        });
    }
    if failed.is_empty() {
        Ok(())
    } else {
        Err(Fault::StagesFailed {
            stages: failed.iter().map(|file| name_of(file)).collect(),
        })
    }
}

fn name_of(file: &Path) -> String {
    let name = file.file_name().unwrap_or_default();
    name.to_string_lossy().into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_untried_is_named_with_what_it_lacks() {
        let nowhere = Machine::new(std::ffi::OsString::new(), false);
        let said = ungranted(&nowhere, &[IN_WEBKIT]);
        assert_eq!(
            said,
            [
                "a phone with WebKit (WebKitWebDriver: from the system's packages \
                 (Debian: `apt-get install webkit2gtk-driver`))"
            ]
        );
        assert!(ungranted(&nowhere, &[]).is_empty());
    }
}
