//! Plain English, read once by somebody whose third language it is: short sentences, no identifiers, one name for one
//! thing. The limit of 18 words is our own rule; shorter is better.

use std::collections::BTreeSet;

const WORDS: &str = include_str!("../words/en.txt");
const TERMS: &str = include_str!("terms.txt");
/// The most words between two stops.
const MOST_WORDS: usize = 18;

/// The sentences of the pages, each with its key.
fn of_pages() -> Vec<(String, String)> {
    let entry = |line: &str| {
        let (key, text) = line.split_once(" = ")?;
        let is_key = key.starts_with(|first: char| first.is_ascii_alphabetic());
        is_key.then(|| (key.to_owned(), text.trim_matches('"').to_owned()))
    };
    WORDS.lines().filter_map(entry).collect()
}

/// What the crew reads of the library, each with the file and step that it stands in.
fn of_library() -> Vec<(String, String)> {
    let mut all = Vec::new();
    for procedure in procedure::library::all() {
        let place = |id: &str| format!("{}: {id}", procedure.slug());
        let mut note = |id: &str, text: &str| all.push((place(id), text.to_owned()));
        note("title", procedure.title());
        note("purpose", procedure.purpose());
        for caution in procedure.cautions() {
            note("caution", caution);
        }
        for step in procedure.steps() {
            let id = step.id.as_str();
            note(id, &step.instruction);
            note(id, &step.why);
            for caution in &step.cautions {
                note(id, caution);
            }
            for option in step.kind.options() {
                note(id, &option.label);
            }
            for point in step.kind.points() {
                note(id, &point.label);
            }
        }
    }
    all
}

fn all() -> Vec<(String, String)> {
    of_pages().into_iter().chain(of_library()).collect()
}

/// The parts of a text between full stops, colons and the like.
fn sentences(text: &str) -> impl Iterator<Item = &str> {
    text.split_inclusive(['.', ':', ';', '?', '!'])
        .map(str::trim)
}

fn words(sentence: &str) -> impl Iterator<Item = &str> {
    let is_word = |word: &&str| word.chars().any(char::is_alphanumeric);
    sentence.split_whitespace().filter(is_word)
}

/// What stands between braces is a value's name, and is never shown.
fn without_values(text: &str) -> String {
    let mut shown = String::new();
    let mut depth = 0_usize;
    for sign in text.chars() {
        match sign {
            '{' => depth += 1,
            '}' => depth = depth.saturating_sub(1),
            _ if depth == 0 => shown.push(sign),
            _ => {}
        }
    }
    shown
}

#[test]
fn no_sentence_is_longer_than_one_breath() {
    let mut long = Vec::new();
    for (place, text) in all() {
        let too_long = sentences(&text).filter(|said| words(said).count() > MOST_WORDS);
        long.extend(too_long.map(|said| format!("{place}: {said}")));
    }
    assert_eq!(long, [""; 0], "more than {MOST_WORDS} words");
}

#[test]
fn no_identifier_stands_in_a_sentence() {
    let slugs: BTreeSet<&str> = procedure::library::slugs()
        .filter(|slug| slug.contains('-'))
        .collect();
    let is_identifier = |word: &str| {
        let word = word.trim_matches(|sign: char| !sign.is_alphanumeric());
        let is_key = word.contains('_') && word.chars().all(|c| c == '_' || c.is_alphanumeric());
        is_key || slugs.contains(word)
    };
    let mut found = Vec::new();
    for (place, text) in all() {
        if words(&without_values(&text)).any(is_identifier) {
            found.push(format!("{place}: {text}"));
        }
    }
    assert_eq!(found, [""; 0]);
}

#[test]
fn one_thing_has_one_name() {
    let avoided: Vec<(&str, &str)> = TERMS
        .lines()
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| line.split_once(" = "))
        .flat_map(|(ours, others)| others.split(", ").map(move |other| (ours, other)))
        .collect();
    assert!(avoided.len() > 20, "the list is read");
    let mut found = Vec::new();
    for (place, text) in all() {
        let shown = without_values(&text).to_lowercase();
        let plain = shown.replace(|sign: char| !sign.is_alphanumeric(), " ");
        let spaced = format!(" {} ", words(&plain).collect::<Vec<_>>().join(" "));
        for (ours, other) in &avoided {
            if spaced.contains(&format!(" {other} ")) {
                found.push(format!("{place}: {other:?}, we say {ours:?}: {text}"));
            }
        }
    }
    assert_eq!(found, [""; 0]);
}
