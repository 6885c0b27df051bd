//! Makes the catalogue of sentences from the languages' files in `words/`: a constant for each sentence of
//! English, a function for each that has values, and a table for each language. A language that lacks a
//! sentence does not build.

#[path = "src/words/catalogue.rs"]
mod catalogue;

use catalogue::{Catalogue, Key, Sentence, check, read};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::{env, fs};

/// The language by which the others are checked.
const FIRST: &str = "en";

fn constant(at: usize, key: &Key, sentence: &Sentence) -> String {
    let said = sentence
        .forms
        .iter()
        .map(|(_, text)| text.as_str())
        .collect::<Vec<_>>()
        .join(" / ");
    let (name, values) = (&key.1, sentence.values());
    let doc = format!("#[doc = {said:?}]\n");
    let arguments: Vec<String> = values
        .iter()
        .map(|value| format!("{value}: &str"))
        .collect();
    let (arguments, values) = (arguments.join(", "), values.join(", "));
    if sentence.is_counted() {
        let and = if values.is_empty() { "" } else { ", " };
        format!(
            "{doc}pub fn {name}(n: usize{and}{arguments}) -> String {{ Word({at}).counted(n, &[{values}]) }}\n"
        )
    } else if values.is_empty() {
        format!("{doc}pub const {name}: Word = Word({at});\n")
    } else {
        format!("{doc}pub fn {name}({arguments}) -> String {{ Word({at}).with(&[{values}]) }}\n")
    }
}

fn table(first: &Catalogue, language: &Catalogue) -> String {
    let mut texts = String::new();
    for (key, sentence) in &first.sentences {
        let packed = language.sentences[key]
            .packed(&sentence.values())
            .expect("checked before");
        writeln!(texts, "    {packed:?},").expect("a string takes it");
    }
    texts
}

fn languages(folder: &Path) -> BTreeMap<String, Catalogue> {
    let files = fs::read_dir(folder).expect("the folder of languages is there");
    let mut read_well = BTreeMap::new();
    for file in files {
        let path = file.expect("the folder can be read").path();
        if path.extension().is_none_or(|ending| ending != "txt") {
            continue;
        }
        let name = path
            .file_stem()
            .expect("a file has a name")
            .to_string_lossy();
        let text = fs::read_to_string(&path).expect("the file can be read");
        match read(&text) {
            Ok(language) => read_well.insert(name.into_owned(), language),
            Err(wrong) => panic!("{}: {wrong}", path.display()),
        };
    }
    read_well
}

fn main() {
    println!("cargo::rerun-if-changed=words");
    println!("cargo::rerun-if-changed=src/words/catalogue.rs");
    let languages = languages(Path::new("words"));
    let first = &languages[FIRST];
    for (name, language) in &languages {
        if let Err(wrong) = check(first, language) {
            panic!("words/{name}.txt against words/{FIRST}.txt: {wrong}");
        }
    }
    let out = PathBuf::from(env::var_os("OUT_DIR").expect("cargo sets it"));
    let mut parts: BTreeMap<&str, String> = BTreeMap::new();
    for (at, (key, sentence)) in first.sentences.iter().enumerate() {
        parts
            .entry(&key.0)
            .or_default()
            .push_str(&constant(at, key, sentence));
    }
    for (part, text) in &parts {
        let part = if part.is_empty() { "common" } else { part };
        fs::write(out.join(format!("{part}.rs")), text).expect("the build's folder takes it");
    }
    let mut tables = format!("const COUNT: usize = {};\n", first.sentences.len());
    tables.push_str("static TABLES: &[(&str, [&str; COUNT])] = &[\n");
    for (name, language) in &languages {
        writeln!(tables, "({name:?}, [\n{}]),", table(first, language)).expect("a string takes it");
    }
    tables.push_str("];\n");
    fs::write(out.join("tables.rs"), tables).expect("the build's folder takes it");
}
