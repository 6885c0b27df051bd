//! Reads a language's file and checks it against another's. The build script uses it; the program does not.
//!
//! A line is a sentence: `KEY = text`. `{name}` stands for a value, `{n}` for a count. A sentence with a count
//! has a line for each of its forms: `key[0]` for an exact number, `key[one]` and the like for a class of
//! numbers as the language's rule names it, and `key[other]` for all else. `[part]` begins a part of the
//! catalogue, `#` a remark, and quotes keep the spaces at a text's ends.

use std::collections::BTreeMap;

/// Stands between the forms of a sentence with a count, and between a form's class and its text.
pub const BETWEEN_FORMS: char = '\u{1f}';
/// Stands between a form's class and its text.
pub const AFTER_CLASS: char = '\u{1e}';
/// The form that every sentence with a count has.
pub const OTHER: &str = "other";

/// A sentence's place: the part of the catalogue, empty for the first, and its name there.
pub type Key = (String, String);

/// One sentence: its forms in the order of the file. One that has no count has one form without a class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sentence {
    /// Class and text of each form.
    pub forms: Vec<(Option<String>, String)>,
}

impl Sentence {
    /// Whether it has a count.
    pub fn is_counted(&self) -> bool {
        self.forms.iter().any(|(class, _)| class.is_some())
    }

    /// Returns the names of its values in the order in which they first stand, without the count.
    pub fn values(&self) -> Vec<String> {
        let mut found: Vec<String> = Vec::new();
        for (_, text) in &self.forms {
            for name in placeholders(text) {
                let is_count = self.is_counted() && name == "n";
                if !is_count && !found.contains(&name) {
                    found.push(name);
                }
            }
        }
        found
    }

    /// Returns it as the program keeps it: each `{name}` as the place of that value among `values`.
    ///
    /// # Errors
    /// The name of a value that is not among them.
    pub fn packed(&self, values: &[String]) -> Result<String, String> {
        let mut packed = Vec::new();
        for (class, text) in &self.forms {
            let mut text = text.clone();
            for name in placeholders(&text.clone()) {
                if self.is_counted() && name == "n" {
                    continue;
                }
                let at = values.iter().position(|value| *value == name);
                let at = at.ok_or_else(|| format!("no value is called {{{name}}}"))?;
                text = text.replace(&format!("{{{name}}}"), &format!("{{{at}}}"));
            }
            packed.push(match class {
                Some(class) => format!("{class}{AFTER_CLASS}{text}"),
                None => text,
            });
        }
        Ok(packed.join(&BETWEEN_FORMS.to_string()))
    }
}

/// A language as its file says it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Catalogue {
    /// Every sentence by its key.
    pub sentences: BTreeMap<Key, Sentence>,
}

fn placeholders(text: &str) -> Vec<String> {
    text.split('{')
        .skip(1)
        .filter_map(|rest| rest.split_once('}'))
        .map(|(name, _)| name.to_owned())
        .collect()
}

fn is_name(text: &str) -> bool {
    text.starts_with(|sign: char| sign.is_ascii_alphabetic())
        && text
            .chars()
            .all(|sign| sign.is_ascii_alphanumeric() || sign == '_')
}

fn entry(line: &str) -> Result<(String, Option<String>, String), String> {
    let (key, text) = line.split_once('=').ok_or("no '=' in it")?;
    let (key, text) = (key.trim(), text.trim());
    let (name, class) = match key.strip_suffix(']').and_then(|key| key.split_once('[')) {
        Some((name, class)) => (name, Some(class.to_owned())),
        None => (key, None),
    };
    if !is_name(name) {
        return Err(format!("'{name}' is no name"));
    }
    let quoted = text
        .strip_prefix('"')
        .and_then(|text| text.strip_suffix('"'));
    let text = quoted.unwrap_or(text);
    if text.is_empty() {
        return Err(format!("{name} says nothing"));
    }
    if text.matches('{').count() != text.matches('}').count()
        || !placeholders(text).iter().all(|name| is_name(name))
    {
        return Err(format!("{name} has a brace that names no value"));
    }
    Ok((name.to_owned(), class, text.to_owned()))
}

/// Reads a language's file.
///
/// # Errors
/// The line that cannot be read and what is wrong with it; a sentence that is there twice.
pub fn read(text: &str) -> Result<Catalogue, String> {
    let mut read = Catalogue::default();
    let mut part = String::new();
    for (at, line) in text.lines().enumerate() {
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        let wrong = |what: String| format!("line {}: {what}", at + 1);
        if let Some(name) = line
            .strip_prefix('[')
            .and_then(|line| line.strip_suffix(']'))
        {
            name.clone_into(&mut part);
            continue;
        }
        let (name, class, text) = entry(line).map_err(wrong)?;
        let sentence = read
            .sentences
            .entry((part.clone(), name.clone()))
            .or_insert_with(|| Sentence { forms: Vec::new() });
        let is_twice = sentence
            .forms
            .iter()
            .any(|(there, _)| *there == class || there.is_none() || class.is_none());
        if is_twice {
            return Err(wrong(format!("{name} is there twice")));
        }
        sentence.forms.push((class, text));
    }
    for ((part, name), sentence) in &read.sentences {
        let has_other = sentence
            .forms
            .iter()
            .any(|(class, _)| class.as_deref() == Some(OTHER));
        if sentence.is_counted() && !has_other {
            return Err(format!("{part}.{name} has no form '{OTHER}'"));
        }
    }
    Ok(read)
}

/// Checks that `other` says what `first` says: each sentence, with no other values.
///
/// # Errors
/// Every sentence that is missing, unknown or has other values.
pub fn check(first: &Catalogue, other: &Catalogue) -> Result<(), String> {
    let mut wrong = Vec::new();
    for (key, sentence) in &first.sentences {
        match other.sentences.get(key) {
            None => wrong.push(format!("{}.{} is missing", key.0, key.1)),
            Some(said) => {
                let values = sentence.values();
                if said.is_counted() != sentence.is_counted() {
                    wrong.push(format!("{}.{} has a count in one of the two", key.0, key.1));
                } else if let Err(what) = said.packed(&values) {
                    wrong.push(format!("{}.{}: {what}", key.0, key.1));
                }
            }
        }
    }
    for key in other.sentences.keys() {
        if !first.sentences.contains_key(key) {
            wrong.push(format!("{}.{} is unknown", key.0, key.1));
        }
    }
    if wrong.is_empty() {
        Ok(())
    } else {
        Err(wrong.join("; "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_read_with_its_parts_values_and_forms() {
        let read = read(
            "NAME = Clearhawse\n# a remark\n[crew]\nfrom = \" from {day}\"\n\
             waits[one] = 1 waits for {who}\nwaits[other] = {n} wait for {who}\n",
        )
        .expect("a file in order");
        let from = &read.sentences[&("crew".to_owned(), "from".to_owned())];
        assert_eq!(from.values(), ["day"]);
        assert_eq!(from.packed(&from.values()).as_deref(), Ok(" from {0}"));
        let waits = &read.sentences[&("crew".to_owned(), "waits".to_owned())];
        assert!(waits.is_counted());
        assert_eq!(
            waits.packed(&waits.values()).as_deref(),
            Ok("one\u{1e}1 waits for {0}\u{1f}other\u{1e}{n} wait for {0}")
        );
    }

    #[test]
    fn what_a_file_must_not_say_is_named() {
        for (file, wrong) in [
            ("NAME Clearhawse", "line 1: no '=' in it"),
            ("A = a\nA = b", "line 2: A is there twice"),
            ("9 = a", "line 1: '9' is no name"),
            ("A =", "line 1: A says nothing"),
            ("A = {", "line 1: A has a brace that names no value"),
            ("a[one] = 1", ".a has no form 'other'"),
        ] {
            assert_eq!(read(file).expect_err(file), wrong);
        }
    }

    #[test]
    fn a_translation_that_lacks_something_is_told_all_that_it_lacks() {
        let english = read("A = a\nb = {who} waits\nC = c").expect("in order");
        let other = read("A = á\nb = {whom} wartet\nD = d").expect("in order");
        assert_eq!(check(&english, &english), Ok(()));
        assert_eq!(
            check(&english, &other).expect_err("it lacks"),
            ".C is missing; .b: no value is called {whom}; .D is unknown"
        );
    }
}
