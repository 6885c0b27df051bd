//! Measures the budgets: each as a ratio of two things measured in one run.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

use crate::fault::Fault;
use crate::machine::output;
use crate::program::Profile;
use crate::run::{cargo, note, stage};
use crate::{paths, program, run, site, test};

/// What the phone may have to fetch of the program's wasm, in bytes, compressed.
const WASM_BUDGET: usize = 650 * 1000;
/// What the program may weigh, in bytes.
const PROGRAM_BUDGET: usize = 25 * 1000 * 1000;

/// What `cargo xtask bench` measured last, for everybody to read.
const TABLE: &str = "tests/BENCHMARKS.md";

/// How thoroughly to measure.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Round {
    /// Once over everything, so that nothing rots; whatever the figures.
    Short,
    /// In full; a limit that does not hold is a fault.
    Long,
}

impl Round {
    /// Nobody reads the figures of a short round, and a release takes long to compile.
    fn profile(self) -> Profile {
        match self {
            Self::Short => Profile::Dev,
            Self::Long => Profile::Release,
        }
    }
}

/// One line of the table: a ratio of two things measured in one run, and its limit.
#[derive(Debug, Clone, PartialEq)]
struct Row {
    name: String,
    ratio: f64,
    is_most: bool,
    limit: f64,
    what: String,
}

impl Row {
    /// Reads `bench`, name, ratio, `most` or `least`, limit and what it is, with tabs between.
    fn read(line: &str) -> Option<Self> {
        let mut parts = line.strip_prefix("bench\t")?.split('\t');
        let mut next = || parts.next();
        Some(Self {
            name: next()?.to_owned(),
            ratio: next()?.parse().ok()?,
            is_most: next()? == "most",
            limit: next()?.parse().ok()?,
            what: next()?.to_owned(),
        })
    }

    fn holds(&self) -> bool {
        if self.is_most {
            self.ratio <= self.limit
        } else {
            self.ratio >= self.limit
        }
    }
}

/// Runs every benchmark in full, writes the table, and fails if a limit does not hold.
pub fn run() -> Result<(), Fault> {
    let rows = measure(Round::Long)?;
    paths::write(&paths::root().join(TABLE), table(&rows).as_bytes())?;
    note(&format!("{TABLE} is written"));
    let over: Vec<String> = rows
        .into_iter()
        .filter(|row| !row.holds())
        .map(|row| row.name)
        .collect();
    if over.is_empty() {
        Ok(())
    } else {
        Err(Fault::OverLimit { benches: over })
    }
}

/// Runs a short round of every benchmark. Its figures are of no use; that there are some is what counts.
pub fn short() -> Result<(), Fault> {
    measure(Round::Short).map(drop)
}

fn measure(round: Round) -> Result<Vec<Row>, Fault> {
    let profile = round.profile();
    let binary = program::build(profile)?;
    let mut rows = Vec::new();
    for package in with_benches()? {
        rows.extend(stage(&format!("bench {package}"), || {
            // With the pages, or the program just built would be put back as one without.
            let mut command = cargo();
            command
                .args(["bench", "--package", &package, "--benches"])
                .args(["--profile", profile.name()])
                .env("CLEARHAWSE_SITE", paths::site());
            rows_of(&mut command, round)
        })?);
    }
    let years = years(profile)?;
    for script in ["bench.mjs", "bench-plan.mjs", "bench-years.mjs"] {
        rows.extend(stage(&format!("bench browser: {script}"), || {
            in_browser(script, [&binary, &years], round)
        })?);
    }
    rows.extend(stage("bench size: what a phone fetches", || {
        sizes(&binary)
    })?);
    Ok(rows)
}

/// Runs a benchmark and returns the rows that it prints.
fn rows_of(command: &mut Command, round: Round) -> Result<Vec<Row>, Fault> {
    if round == Round::Short {
        command.env("CLEARHAWSE_BENCH", "short");
    }
    let told = run::run_and_read(command)?;
    let rows: Vec<Row> = told.lines().filter_map(Row::read).collect();
    if rows.is_empty() {
        return Err(Fault::NothingMeasured {
            command: run::describe(command),
        });
    }
    Ok(rows)
}

/// Returns the table as it is kept.
fn table(rows: &[Row]) -> String {
    let told = |program: &str, arguments: &[&str]| {
        let mut command = Command::new(program);
        command.args(arguments).current_dir(paths::root());
        output(&mut command).map_or_else(|| "unknown".to_owned(), |text| text.trim().to_owned())
    };
    let commit = told("git", &["describe", "--always", "--dirty"]);
    let date = told("date", &["-u", "+%Y-%m-%d"]);
    let mut text = format!(
        "# Benchmarks\n\nWritten by `cargo xtask bench` on {date} at commit {commit}. Each is a ratio of two things \
         measured in one run on one machine.\n\n| what | ratio | limit | | measured |\n|---|---|---|---|---|\n"
    );
    for row in rows {
        let limit = if row.is_most { "at most" } else { "at least" };
        let mark = if row.holds() { "" } else { "**over**" };
        writeln!(
            text,
            "| {} | {:.2} | {limit} {} | {mark} | {} |",
            row.name, row.ratio, row.limit, row.what
        )
        .expect("invariant: writing to a string cannot fail");
    }
    text
}

/// Runs a script that measures the program from a browser.
fn in_browser(script: &str, [binary, years]: [&Path; 2], round: Round) -> Result<Vec<Row>, Fault> {
    let (node, chromium) = test::browser_programs()?;
    let folder = paths::root().join("tests/browser");
    test::install_packages(&node, &folder)?;
    rows_of(
        Command::new(&node.node)
            .arg(script)
            .current_dir(&folder)
            .env("CLEARHAWSE_BIN", binary)
            .env("CLEARHAWSE_YEARS", years)
            .env("CHROMIUM", &chromium),
        round,
    )
}

/// Builds what writes the records of years, for a phone; returns where it is.
fn years(profile: Profile) -> Result<PathBuf, Fault> {
    let build = ["build", "--package", "journal", "--example", "years"];
    run::run(cargo().args(build).args(["--profile", profile.name()]))?;
    let folder = paths::target().join(profile.folder()).join("examples");
    Ok(folder.join(format!("years{}", std::env::consts::EXE_SUFFIX)))
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

/// Weighs what a phone fetches, and the program.
fn sizes(binary: &Path) -> Result<Vec<Row>, Fault> {
    let listing = site::Listing::read()?;
    for file in &listing.files {
        let sent = file.sent();
        note(&format!(
            "{:<34} {:>8} bytes, {sent:>8} as sent",
            file.logical, file.bytes
        ));
    }
    let wasm: usize = listing
        .files
        .iter()
        .filter(|file| {
            Path::new(&file.path)
                .extension()
                .is_some_and(|end| end == "wasm")
        })
        .map(site::Listed::sent)
        .sum();
    let program = paths::read(binary)?.len();
    Ok([
        ("wasm in brotli", wasm, WASM_BUDGET),
        ("the program", program, PROGRAM_BUDGET),
    ]
    .map(|(name, bytes, budget)| Row {
        name: name.to_owned(),
        ratio: bytes as f64 / budget as f64,
        is_most: true,
        limit: 1.0,
        what: format!("{bytes} of {budget} bytes"),
    })
    .into())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_read_and_a_limit_that_does_not_hold_is_marked() {
        let row = Row::read("bench\tingest\t0.500\tleast\t0.6\t5 against 10").expect("a row");
        assert!(!row.holds());
        let good = Row::read("bench\twire\t1.200\tmost\t1.3\tbytes").expect("a row");
        assert!(good.holds());
        assert_eq!(Row::read("ingest: ratio 0.5"), None);
        let text = table(&[row, good]);
        assert!(
            text.contains("| ingest | 0.50 | at least 0.6 | **over** | 5 against 10 |"),
            "{text}"
        );
        assert!(
            text.contains("| wire | 1.20 | at most 1.3 |  | bytes |"),
            "{text}"
        );
    }
}
