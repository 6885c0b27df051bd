//! What the trade's figures come from is named where each stands: constants, tests, procedures and the reference cases.

use crate::tidy::{root, sources};
use std::path::PathBuf;

/// Words that name no source: whoever reads them cannot look it up.
const VAGUE: [&str; 7] = [
    "a supplier",
    "suppliers' tables",
    "a page on",
    "a published test",
    "company handout",
    "training handout",
    "a shared ship worksheet",
];

/// Types of figures that are measured: a number of pieces or of milliseconds is the program's own.
const MEASURED: [&str; 9] = [
    "f64",
    "Metres",
    "Knots",
    "Degrees",
    "KilogramsPerCubicMetre",
    "Newtons",
    "Pascals",
    "Minutes",
    "MetresPerSecond",
];

/// The sums' sources that are shipped, without their tests.
fn sums() -> impl Iterator<Item = (String, String)> {
    let plumbing = ["error.rs", "lib.rs", "reckon.rs", "units.rs", "root.rs"];
    sources().into_iter().filter_map(move |(name, text)| {
        let inner = name.strip_prefix("app/seamanship/src/")?;
        let is_plumbing = plumbing.contains(&inner)
            || inner.starts_with("reckon/")
            || inner.ends_with("tests.rs");
        let shipped = text.split("#[cfg(test)]").next().unwrap_or_default();
        (!is_plumbing).then(|| (inner.to_owned(), shipped.to_owned()))
    })
}

/// Returns the constants of measured figures outside any block, each with its documentation.
fn figures(text: &str) -> Vec<(String, String)> {
    let mut doc = String::new();
    let mut found = Vec::new();
    for line in text.lines() {
        let declared = line
            .trim_start_matches("pub ")
            .trim_start_matches("pub(super) ");
        let constant = declared.strip_prefix("const ");
        if let Some(said) = line.strip_prefix("///") {
            doc.push_str(said);
        } else if let Some((name, rest)) = constant.and_then(|rest| rest.split_once(": ")) {
            let kind = rest.split(" =").next().unwrap_or_default();
            let of = kind.trim_start_matches(['[', '&']);
            let of = of.split([';', ']']).next().unwrap_or_default();
            let doc = std::mem::take(&mut doc);
            if MEASURED.contains(&of) {
                found.push((name.to_owned(), doc));
            }
        } else if !line.starts_with("#[") {
            doc.clear();
        }
    }
    found
}

#[test]
fn every_constant_of_the_sums_names_its_source() {
    let mut count = 0;
    let mut silent = Vec::new();
    for (name, text) in sums() {
        for (constant, doc) in figures(&text) {
            count += 1;
            if !doc.contains("Source: ") && !doc.contains("no source") {
                silent.push(format!("{name}: {constant}"));
            }
        }
    }
    assert!(count > 25, "only {count} constants were found");
    assert!(
        silent.is_empty(),
        "these do not say where they come from: {silent:#?}"
    );
}

/// Returns the tests that compare with something outside, each from its documentation to its end.
fn comparisons(text: &str) -> Vec<(&str, String)> {
    let lines: Vec<&str> = text.lines().collect();
    let mut found = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        let head = line.trim_start().strip_prefix("fn ");
        let Some(name) = head.and_then(|rest| rest.strip_suffix("() {")) else {
            continue;
        };
        if !name.contains("agree") {
            continue;
        }
        let indent = line.len() - line.trim_start().len();
        let end = format!("{:indent$}}}", "");
        let before = lines[..at].iter().rev();
        let before = before.take_while(|line| line.trim_start().starts_with(['#', '/']));
        let body = lines[at..].iter().take_while(|line| **line != end);
        let all: Vec<&str> = before.chain(body).copied().collect();
        found.push((name, all.join("\n")));
    }
    found
}

#[test]
fn every_test_that_compares_with_something_outside_names_it() {
    let mut count = 0;
    let mut silent = Vec::new();
    for (name, text) in sources() {
        if !name.starts_with("app/seamanship/") {
            continue;
        }
        for (test, all) in comparisons(&text) {
            count += 1;
            // A table of values, or the reference file that is named, says it of itself.
            let tables = text.split("const ").skip(1);
            let mut tables = tables.filter_map(|rest| rest.split(':').next());
            let has_table = tables.any(|table| {
                table.len() > 3 && !table.contains(char::is_whitespace) && all.contains(table)
            });
            if !all.contains("//") && !has_table && !all.contains(".json") {
                silent.push(format!("{name}: {test}"));
            }
        }
    }
    assert!(count > 10, "only {count} tests were found");
    assert!(
        silent.is_empty(),
        "these do not say with what they compare: {silent:#?}"
    );
}

fn files(folder: &str, end: &str) -> Vec<PathBuf> {
    let found = std::fs::read_dir(root().join(folder)).expect("a folder");
    let found = found.map(|entry| entry.expect("an entry").path());
    found
        .filter(|path| path.extension().is_some_and(|is| is == end))
        .collect()
}

#[test]
fn every_procedure_of_the_library_says_what_it_follows_or_that_it_follows_nothing() {
    let library = files("app/procedure/library", "toml");
    assert!(library.len() > 10, "only {} were found", library.len());
    for path in library {
        let text = std::fs::read_to_string(&path).expect("text");
        let head: Vec<&str> = text
            .lines()
            .take_while(|line| line.starts_with('#'))
            .collect();
        let head = head.join("\n");
        let is_year = |word: &str| word.len() == 4 && word.chars().all(|c| c.is_ascii_digit());
        let mut words = head.split(|c: char| !c.is_ascii_alphanumeric());
        assert!(
            words.any(is_year) || head.contains("no source") || head.contains("not opened"),
            "{}: {head}",
            path.display()
        );
    }
}

#[test]
fn no_source_is_named_so_that_nobody_can_look_it_up() {
    let mut texts: Vec<(String, String)> = sources().into_iter().collect();
    texts.retain(|(name, _)| {
        name.starts_with("app/seamanship/") || name.starts_with("app/procedure/src/")
    });
    for path in files("app/procedure/library", "toml") {
        let text = std::fs::read_to_string(&path).expect("text");
        texts.push((path.display().to_string(), text));
    }
    for (name, text) in texts {
        let text = text.to_lowercase();
        let vague = VAGUE.iter().find(|vague| text.contains(**vague));
        assert_eq!(vague, None, "{name}");
    }
}

#[test]
fn reference_cases_say_how_they_were_made_in_which_units_and_how_near_they_hold() {
    let folder = "app/seamanship/tests/golden";
    let cases = files(folder, "json");
    assert!(cases.len() > 5, "only {} files were found", cases.len());
    for path in cases {
        let text = std::fs::read_to_string(&path).expect("text");
        let file: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        let header = &file["header"];
        for part in ["source", "units", "tolerance", "licence"] {
            let is_said = header[part].is_string() || header[part].is_object();
            assert!(is_said, "{}: no {part}", path.display());
        }
        let made = header["how_made"].as_str();
        let said = made.or_else(|| header["source"]["primary"].as_str());
        let said = said.unwrap_or_else(|| panic!("{}: not said how", path.display()));
        let words = said.split(|c: char| c.is_whitespace() || ",;:".contains(c));
        let is_program = |word: &&str| [".py", ".mjs", ".rs"].iter().any(|end| word.ends_with(end));
        for word in words.filter(is_program) {
            let program = root().join(folder).join(word);
            assert!(program.exists(), "{}: {word} is not here", path.display());
        }
    }
}
