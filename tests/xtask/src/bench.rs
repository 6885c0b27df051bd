//! Measures the budgets: each as a ratio of two things measured in one run.

use std::path::Path;
use std::process::Command;

use crate::fault::Fault;
use crate::run::{cargo, note, stage};
use crate::{paths, program, run, site, test};

/// What the phone may have to fetch of the program's wasm, in bytes, compressed.
const WASM_BUDGET: usize = 350 * 1000;

/// Runs every benchmark there is, then says whether the program's size is within its budget.
pub fn run() -> Result<(), Fault> {
    let binary = program::build()?;
    for package in with_benches()? {
        stage(&format!("bench {package}"), || {
            // With the pages, or the program just built would be put back as one without.
            run::run(
                cargo()
                    .args(["bench", "--package", &package, "--benches"])
                    .env("CLEARHAWSE_SITE", paths::site()),
            )
        })?;
    }
    let browser = [
        (
            "bench.mjs",
            "bench browser: tick to durable, cold start, bytes on the wire",
        ),
        ("bench-plan.mjs", "bench browser: a keystroke in the plan"),
    ];
    for (script, what) in browser {
        let script = paths::root().join("tests/browser").join(script);
        if script.is_file() {
            stage(what, || in_browser(&script, &binary))?;
        }
    }
    stage("bench size: what a phone fetches", size)
}

/// Runs a short round of everything.
pub fn short() -> Result<(), Fault> {
    run()
}

/// Runs a script that measures the program from a browser.
fn in_browser(script: &Path, binary: &Path) -> Result<(), Fault> {
    let (node, chromium) = test::browser_programs()?;
    let folder = paths::root().join("tests/browser");
    test::install_packages(&node, &folder)?;
    run::run(
        Command::new(&node.node)
            .arg(script)
            .current_dir(&folder)
            .env("CLEARHAWSE_BIN", binary)
            .env("CHROMIUM", &chromium),
    )
}

/// Returns the packages that have a `benches` folder, in order of name.
fn with_benches() -> Result<Vec<String>, Fault> {
    let root = paths::root();
    let mut packages = Vec::new();
    for layer in ["app", "server", "tests"] {
        let layer = root.join(layer);
        let listed = std::fs::read_dir(&layer).map_err(|source| Fault::File {
            doing: "list",
            path: layer.clone(),
            source,
        })?;
        let inner = listed.filter_map(|entry| Some(entry.ok()?.path()));
        for folder in std::iter::once(layer).chain(inner) {
            if folder.join("benches").is_dir() && folder.join("Cargo.toml").is_file() {
                packages.push(package_name(&folder.join("Cargo.toml"))?);
            }
        }
    }
    packages.sort();
    Ok(packages)
}

fn package_name(manifest: &std::path::Path) -> Result<String, Fault> {
    let text = paths::read_text(manifest)?;
    let name = text.lines().find_map(|line| line.strip_prefix("name = "));
    Ok(name
        .expect("invariant: a manifest names its package before anything else")
        .trim_matches('"')
        .to_owned())
}

fn size() -> Result<(), Fault> {
    let listing = site::Listing::read()?;
    for file in &listing.files {
        let sent = file.sent();
        note(&format!(
            "{:<34} {:>8} bytes, {sent:>8} as sent",
            file.logical, file.bytes
        ));
    }
    let total: usize = listing.files.iter().map(site::Listed::sent).sum();
    note(&format!("{:<34} {:>8} {total:>24} as sent", "together", ""));
    let wasm = listing
        .file("clearhawse.wasm")
        .map_or(0, site::Listed::sent);
    note(&format!(
        "wasm in brotli: {wasm} of {WASM_BUDGET} bytes, ratio {:.2}",
        wasm as f64 / WASM_BUDGET as f64
    ));
    if wasm > WASM_BUDGET {
        return Err(Fault::OverBudget {
            bytes: wasm,
            budget: WASM_BUDGET,
        });
    }
    Ok(())
}
