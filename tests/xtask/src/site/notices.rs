//! `notices.txt`: whose work is inside the program, and on what terms.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::Path;

use super::Site;
use crate::fault::Fault;
use crate::machine::Machine;
use crate::needs;
use crate::paths;
use crate::supply::licence;
use crate::supply::packages::{Package, Packages};

const HEAD: &str = "\
Clearhawse is free software; its own terms stand first. It carries work of others, on the phone, in the server, or in
both: below are their names, and after them the texts of their licences, each once. No package from npm is inside:
those only run the tests.
";

const RUST: &str = "\
The standard library of Rust is inside as well: copyright the Rust Project contributors, MIT OR Apache-2.0.
SQLite, which libsqlite3-sys carries, is in the public domain.
";

/// Adds the notices. They are for reading on a network, and no part of what a phone keeps for the bow.
pub fn add(site: &mut Site) -> Result<(), Fault> {
    let host = needs::host(&Machine::here()).ok_or(Fault::NoHost)?;
    let mut all = Packages::inside("server", &host)?.all;
    all.extend(Packages::inside("web", needs::WASM_TARGET)?.all);
    all.sort();
    all.dedup();
    let ours = paths::read_text(&paths::root().join("LICENSE"))?;
    let fonts = paths::read_text(&paths::root().join("public/fonts/OFL.txt"))?;
    site.add_fixed("notices.txt", write(&all, &ours, &fonts)?.into_bytes());
    Ok(())
}

fn write(packages: &[Package], ours: &str, fonts: &str) -> Result<String, Fault> {
    let mut texts: BTreeMap<String, (String, Vec<String>)> = BTreeMap::new();
    let mut add = |text: &str, whose: String| {
        let same = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let entry = texts.entry(same);
        let (_, of) = entry.or_insert_with(|| (text.trim().replace('\r', ""), Vec::new()));
        of.push(whose);
    };
    let mut names = String::new();
    for package in packages {
        let terms = package.license.as_deref().unwrap_or("see below");
        let name = format!("{} {}", package.name, package.version);
        writeln!(names, "  {name}: {terms}").expect("invariant: writing to a string");
        for text in licence_texts(package, terms, ours)? {
            add(&text, name.clone());
        }
    }
    let mut told = format!(
        "{HEAD}\n{ours}\n{RUST}\nThe fonts: Atkinson Hyperlegible Next, under the SIL Open Font License 1.1:\n\n{fonts}\n\
         The packages:\n\n{names}"
    );
    let rule = "-".repeat(100);
    for (text, of) in texts.values() {
        write!(told, "\n{rule}\n{}\n\n{text}\n", of.join(", ")).expect("invariant: as above");
    }
    Ok(told)
}

/// Returns the texts that the package brings; of several licences to choose from, MIT's alone.
fn licence_texts(package: &Package, terms: &str, ours: &str) -> Result<Vec<String>, Fault> {
    let is_mit = licence::is_met(terms, &|name| name == "MIT");
    let mut files: Vec<_> = paths::files_in(&package.folder)?
        .into_iter()
        .filter(|path| is_licence(path))
        .collect();
    let of_mit = |path: &std::path::PathBuf| path.to_string_lossy().to_uppercase().contains("MIT");
    if is_mit && files.iter().any(of_mit) {
        files.retain(of_mit);
    }
    if files.is_empty() {
        return generic(package, terms, is_mit, ours).map(|text| vec![text]);
    }
    let read = |path: &std::path::PathBuf| {
        paths::read(path).map(|bytes| String::from_utf8_lossy(&bytes).into_owned())
    };
    files.iter().map(read).collect()
}

fn is_licence(path: &Path) -> bool {
    let name = path
        .file_name()
        .unwrap_or_default()
        .to_string_lossy()
        .to_uppercase();
    ["LICEN", "COPYING", "UNLICENSE", "NOTICE"]
        .iter()
        .any(|start| name.starts_with(start))
        && ![".RS", ".PY"].iter().any(|end| name.ends_with(end))
}

/// Returns the licence's own words with the package's authors, for a package that brings no file of it.
fn generic(package: &Package, terms: &str, is_mit: bool, ours: &str) -> Result<String, Fault> {
    let authors = match package.authors.as_slice() {
        [] => format!("the authors of {}", package.name),
        some => some.join(", "),
    };
    if is_mit {
        let words = ours
            .find("Permission is hereby granted")
            .unwrap_or_default();
        return Ok(format!(
            "MIT License\n\nCopyright (c) {authors}\n\n{}",
            &ours[words..]
        ));
    }
    if terms == "BSD-3-Clause" {
        return Ok(format!("Copyright (c) {authors}\n\n{BSD_3_CLAUSE}"));
    }
    Err(Fault::Style {
        place: package.label(),
        reason: format!("brings no text of its licence, {terms}: put it into site/notices.rs"),
    })
}

const BSD_3_CLAUSE: &str = "\
Redistribution and use in source and binary forms, with or without modification, are permitted provided that the
following conditions are met:

1. Redistributions of source code must retain the above copyright notice, this list of conditions and the following
disclaimer.

2. Redistributions in binary form must reproduce the above copyright notice, this list of conditions and the
following disclaimer in the documentation and/or other materials provided with the distribution.

3. Neither the name of the copyright holder nor the names of its contributors may be used to endorse or promote
products derived from this software without specific prior written permission.

THIS SOFTWARE IS PROVIDED BY THE COPYRIGHT HOLDERS AND CONTRIBUTORS \"AS IS\" AND ANY EXPRESS OR IMPLIED WARRANTIES,
INCLUDING, BUT NOT LIMITED TO, THE IMPLIED WARRANTIES OF MERCHANTABILITY AND FITNESS FOR A PARTICULAR PURPOSE ARE
DISCLAIMED. IN NO EVENT SHALL THE COPYRIGHT HOLDER OR CONTRIBUTORS BE LIABLE FOR ANY DIRECT, INDIRECT, INCIDENTAL,
SPECIAL, EXEMPLARY, OR CONSEQUENTIAL DAMAGES (INCLUDING, BUT NOT LIMITED TO, PROCUREMENT OF SUBSTITUTE GOODS OR
SERVICES; LOSS OF USE, DATA, OR PROFITS; OR BUSINESS INTERRUPTION) HOWEVER CAUSED AND ON ANY THEORY OF LIABILITY,
WHETHER IN CONTRACT, STRICT LIABILITY, OR TORT (INCLUDING NEGLIGENCE OR OTHERWISE) ARISING IN ANY WAY OUT OF THE USE
OF THIS SOFTWARE, EVEN IF ADVISED OF THE POSSIBILITY OF SUCH DAMAGE.
";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_package_of_the_program_is_named_with_the_text_of_its_licence() {
        let mut site = Site::default();
        add(&mut site).expect("notices");
        let text = String::from_utf8(site.take("notices.txt")).expect("text");
        for part in [
            "axum 0.8",
            "wasm-bindgen 0.2",
            "leptos 0.8",
            "SIL OPEN FONT LICENSE",
            "Copyright (c) Greg Johnston",
            "Apache License",
        ] {
            assert!(text.contains(part), "{part}");
        }
        for part in ["proptest", "tempfile", "lightningcss"] {
            assert!(
                !text.contains(&format!("  {part} ")),
                "{part} only runs here"
            );
        }
    }

    #[test]
    fn a_package_without_a_text_that_we_know_is_refused_by_name() {
        let package = Package {
            name: "a".to_owned(),
            version: "1.0.0".to_owned(),
            license: Some("ISC".to_owned()),
            source: String::new(),
            authors: Vec::new(),
            folder: paths::root().join(".cargo"),
        };
        let fault = write(&[package], "", "").expect_err("no text").to_string();
        assert!(
            fault.contains("a@1.0.0") && fault.contains("ISC"),
            "{fault}"
        );
    }
}
