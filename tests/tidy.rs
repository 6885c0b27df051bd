//! What the layout promises: who may depend on whom, how long a file may be, that what is named exists.

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::Command;

/// What each crate may use of ours.
const MAY_USE: [(&str, &[&str]); 12] = [
    ("seamanship", &[]),
    ("procedure", &["seamanship"]),
    ("record", &[]),
    ("journal", &["seamanship", "procedure", "record"]),
    ("store", &["journal", "record"]),
    ("ui", &["journal", "seamanship", "procedure", "record"]),
    (
        "web",
        &[
            "ui",
            "store",
            "journal",
            "procedure",
            "record",
            "seamanship",
        ],
    ),
    ("storage", &["record"]),
    (
        "server",
        &[
            "ui",
            "storage",
            "journal",
            "procedure",
            "record",
            "seamanship",
        ],
    ),
    (
        "system-tests",
        &[
            "server",
            "storage",
            "journal",
            "procedure",
            "record",
            "seamanship",
        ],
    ),
    ("fuzz", &["journal", "procedure", "record", "seamanship"]),
    ("xtask", &[]),
];

/// The crates that do no I/O, read no clock and know no screen.
const PURE: [&str; 4] = ["seamanship", "procedure", "record", "journal"];

/// What only some crates may name, besides the tests: a package, or the beginning of its name, and who.
const RESERVED: [(&str, &[&str]); 14] = [
    ("web-sys", &["web", "store"]),
    ("js-sys", &["web", "store"]),
    ("wasm-bindgen", &["web", "store"]),
    ("indexed_db_futures", &["store"]),
    ("tokio", &["server", "storage"]),
    ("axum", &["server"]),
    ("tower", &["server"]),
    ("ureq", &["server"]),
    ("rusqlite", &["storage"]),
    ("tracing", &["server", "storage"]),
    ("leptos", &["ui", "web", "server"]),
    ("getrandom", &["server"]),
    ("rand", &[]),
    ("futures", &["server", "web"]),
];

/// Files that may be longer than the rest, and why.
const LONG: [(&str, &str); 1] = [(
    "app/ui/src/bridge/plan/fields.rs",
    "a table: one row for each input of the plan",
)];
const MOST_LINES: usize = 500;

pub fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("this crate lies below the root")
        .to_owned()
}

/// A package and what it names directly: package and kind of dependency.
type Dependencies = BTreeMap<String, Vec<(String, Option<String>)>>;

fn dependencies() -> Dependencies {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let told = Command::new(cargo)
        .args(["metadata", "--no-deps", "--format-version", "1"])
        .current_dir(root())
        .output()
        .expect("cargo runs");
    let told: Value = serde_json::from_slice(&told.stdout).expect("JSON");
    let text = |value: &Value| value.as_str().map(str::to_owned);
    let packages = told["packages"].as_array().expect("packages");
    packages
        .iter()
        .map(|package| {
            let named = package["dependencies"].as_array().expect("dependencies");
            let named = named.iter().map(|dependency| {
                let name = text(&dependency["name"]).expect("a name");
                (name, text(&dependency["kind"]))
            });
            (text(&package["name"]).expect("a name"), named.collect())
        })
        .collect()
}

#[test]
fn each_crate_uses_only_the_layers_that_it_may() {
    let dependencies = dependencies();
    let ours: BTreeSet<&str> = MAY_USE.iter().map(|(name, _)| *name).collect();
    let there: BTreeSet<&str> = dependencies.keys().map(String::as_str).collect();
    assert_eq!(there, ours, "every crate has its line in this test");
    for (name, may) in MAY_USE {
        for (used, _) in &dependencies[name] {
            let allowed = !ours.contains(used.as_str()) || may.contains(&used.as_str());
            assert!(allowed, "{name} must not use {used}");
        }
    }
}

#[test]
fn what_touches_the_world_is_named_only_where_it_may_be() {
    for (name, named) in dependencies() {
        if ["system-tests", "xtask"].contains(&name.as_str()) {
            continue;
        }
        for (used, kind) in named
            .iter()
            .filter(|(_, kind)| kind.as_deref() != Some("dev"))
        {
            for (reserved, may) in RESERVED {
                let is_it = used == reserved
                    || used
                        .strip_prefix(reserved)
                        .is_some_and(|rest| rest.starts_with(['-', '_']));
                assert!(
                    !is_it || may.contains(&name.as_str()),
                    "{name} must not name {used} ({kind:?})"
                );
            }
        }
    }
}

/// Returns the tracked files, or those that stand there where this is no repository.
fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let is_ours =
            !name.starts_with("target") && name != "node_modules" && !name.starts_with('.');
        if path.is_dir() && is_ours {
            files(&path, found);
        } else if path.is_file() {
            found.push(path);
        }
    }
}

/// Returns the Rust sources by their path from the root.
pub fn sources() -> BTreeMap<String, String> {
    let root = root();
    let mut found = Vec::new();
    files(&root, &mut found);
    let rust = found
        .iter()
        .filter(|path| path.extension().is_some_and(|end| end == "rs"));
    rust.map(|path| {
        let name = path.strip_prefix(&root).expect("it is below the root");
        let text = std::fs::read_to_string(path).expect("text");
        (name.to_string_lossy().replace('\\', "/"), text)
    })
    .collect()
}

#[test]
fn no_file_is_longer_than_a_reader_can_hold_in_mind() {
    let sources = sources();
    assert!(sources.len() > 100, "the sources are found");
    let is_excepted = |name: &str| LONG.iter().any(|(long, _)| *long == name);
    let too_long: Vec<String> = sources
        .iter()
        .map(|(name, text)| (name, text.lines().count()))
        .filter(|(name, lines)| *lines > MOST_LINES && !is_excepted(name))
        .map(|(name, lines)| format!("{name}: {lines}"))
        .collect();
    assert!(too_long.is_empty(), "these need dividing: {too_long:#?}");
    for (name, reason) in LONG {
        assert!(sources.contains_key(name), "{name} is gone ({reason})");
    }
}

#[test]
fn no_source_holds_a_stub_a_skipped_test_or_a_module_file_without_a_subject() {
    let signs = [
        concat!("todo", "!("),
        concat!("unimplemented", "!("),
        concat!("#[ig", "nore"),
        concat!("FIX", "ME"),
        concat!("XX", "X"),
        concat!("#[al", "low("),
        concat!("#![al", "low("),
    ];
    for (name, text) in sources() {
        assert!(
            !name.ends_with("/mod.rs"),
            "{name}: name the file for its subject"
        );
        for sign in signs {
            assert!(!text.contains(sign), "{name} holds {sign}");
        }
    }
}

/// Returns what stands between backticks, outside blocks of code.
fn quoted(text: &str) -> Vec<&str> {
    let mut is_block = false;
    let lines = text.lines().filter(|line| {
        let is_fence = line.trim_start().starts_with("```");
        is_block ^= is_fence;
        !is_block && !is_fence
    });
    lines
        .flat_map(|line| line.split('`').skip(1).step_by(2))
        .collect()
}

#[test]
fn every_path_that_the_documents_name_exists() {
    let root = root();
    let tops = [
        "app/", "server/", "tests/", "style/", "public/", ".ci/", ".cargo/",
    ];
    let mut count = 0;
    let mut missing = Vec::new();
    for document in [
        "DEVELOPERS.md",
        "README.md",
        "app/procedure/library/README.md",
    ] {
        let text = std::fs::read_to_string(root.join(document)).expect("a document");
        let folder = root.join(document);
        let folder = folder.parent().expect("a folder");
        let is_path = |path: &&str| {
            tops.iter().any(|top| path.starts_with(top)) && !path.contains(['*', ' '])
        };
        let named = quoted(&text).into_iter().filter(is_path);
        let targets = text
            .split("](")
            .skip(1)
            .filter_map(|rest| rest.split([')', '#']).next());
        let targets = targets.filter(|target| !target.contains("://") && !target.is_empty());
        let paths = named
            .map(|path| root.join(path))
            .chain(targets.map(|path| folder.join(path)));
        for path in paths {
            count += 1;
            if !path.exists() {
                missing.push(format!("{document}: {}", path.display()));
            }
        }
    }
    assert!(
        missing.is_empty(),
        "these are named and not there: {missing:#?}"
    );
    assert!(count > 20, "only {count} paths were found");
}

#[test]
fn every_test_file_of_the_system_tests_is_part_of_them() {
    let folder = root().join("tests");
    let main = std::fs::read_to_string(folder.join("main.rs")).expect("text");
    for entry in std::fs::read_dir(&folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        let is_rust = path.extension().is_some_and(|end| end == "rs");
        let name = path.file_stem().unwrap_or_default().to_string_lossy();
        // The programs: the tests, the one under test, and the rounds of harm.
        if is_rust && !["main", "program", "rounds"].contains(&name.as_ref()) {
            assert!(
                main.contains(&format!("mod {name};")),
                "{name}.rs is never run"
            );
        }
    }
}

#[test]
fn every_fault_on_the_list_has_its_test() {
    let list = std::fs::read_to_string(root().join("tests/FAULTS.md")).expect("text");
    let mut sources = Vec::new();
    for folder in ["app", "server", "tests"] {
        files(&root().join(folder), &mut sources);
    }
    let texts = |end: &str| -> Vec<String> {
        let paths = sources
            .iter()
            .filter(|path| path.to_string_lossy().ends_with(end));
        paths
            .filter_map(|path| std::fs::read_to_string(path).ok())
            .collect()
    };
    let (programs, stories) = (texts(".rs"), texts(".test.mjs"));
    let rows = list.lines().filter_map(|line| {
        let (number, rest) = line.strip_prefix("| ")?.split_once(" |")?;
        let test = rest.rsplit('`').nth(1)?;
        Some((number.parse::<usize>().ok()?, test))
    });
    let mut expected = 1;
    for (number, test) in rows {
        assert_eq!(
            number, expected,
            "the faults are numbered one after the other"
        );
        expected += 1;
        let head = format!("fn {test}()");
        let is_there = |text: &String| {
            let at = text.find(&head);
            at.is_some_and(|at| text[..at].contains("#[test]") || text[..at].contains("::test"))
        };
        let story = format!("test('{test}'");
        let is_told = stories.iter().any(|text| text.contains(&story));
        assert!(
            is_told || programs.iter().any(is_there),
            "fault {number} has no test {test}"
        );
    }
    assert!(expected > 10, "only {} faults were found", expected - 1);
}

/// Returns the functions that are public outside any block, each with its documentation.
fn public_functions(text: &str) -> Vec<(&str, String)> {
    let mut doc = String::new();
    let mut found = Vec::new();
    for line in text.lines() {
        if let Some(more) = line.strip_prefix("///") {
            doc.push_str(more);
            doc.push('\n');
        } else if let Some(rest) = line.strip_prefix("pub fn ") {
            let name = rest.split(['(', '<']).next().unwrap_or_default();
            found.push((name, std::mem::take(&mut doc)));
        } else if !line.starts_with("#[") {
            doc.clear();
        }
    }
    found
}

#[test]
fn every_sum_names_its_source() {
    // What computes nothing of the trade: errors, units, the front door.
    let plumbing = ["error.rs", "lib.rs", "reckon.rs", "units.rs", "root.rs"];
    // What compares or subtracts two numbers.
    let plain = ["is_overdue", "out_from_gypsy"];
    let mut count = 0;
    let mut silent = Vec::new();
    for (name, text) in sources() {
        let Some(inner) = name.strip_prefix("app/seamanship/src/") else {
            continue;
        };
        if plumbing.contains(&inner) || inner.starts_with("reckon/") || inner.ends_with("tests.rs")
        {
            continue;
        }
        let head = text.lines().take_while(|line| line.starts_with("//!"));
        let head: String = head.collect();
        for (function, doc) in public_functions(&text) {
            count += 1;
            // What a file says of itself in one constant says nothing of this sum.
            let is_named = [&doc, &head]
                .iter()
                .any(|text| text.contains("# Source") || text.contains("no source"));
            if !is_named && !plain.contains(&function) {
                silent.push(format!("{name}: {function}"));
            }
        }
    }
    assert!(count > 50, "only {count} functions were found");
    assert!(
        silent.is_empty(),
        "these do not say where they come from: {silent:#?}"
    );
}

#[test]
fn pages_ask_for_window_and_document_in_one_place() {
    for (name, text) in sources() {
        let Some(inner) = name.strip_prefix("app/ui/src/") else {
            continue;
        };
        let shipped = text.split("#[cfg(").next().unwrap_or_default();
        for sign in ["window()", "document()", "cfg!(feature"] {
            let may = inner == "platform.rs" || !shipped.contains(sign);
            assert!(
                may,
                "{name} holds {sign}: what it wants belongs to platform.rs"
            );
        }
    }
}

#[test]
fn the_pure_crates_read_no_clock_and_touch_no_disk() {
    let signs = [
        "SystemTime::now",
        "Instant::now",
        "Utc::now",
        "Local::now",
        "std::fs",
        "std::net",
        "std::env::",
        "std::process",
        "std::thread",
        "thread_rng",
        "getrandom",
    ];
    let mut count = 0;
    for (name, text) in sources() {
        if !PURE
            .iter()
            .any(|pure| name.starts_with(&format!("app/{pure}/src/")))
        {
            continue;
        }
        count += 1;
        // What stands below the tests' head is not shipped.
        let shipped = text.split("#[cfg(test)]").next().unwrap_or_default();
        for sign in signs {
            assert!(!shipped.contains(sign), "{name} holds {sign}");
        }
    }
    assert!(count > 60, "only {count} files were found");
}
