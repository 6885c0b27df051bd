//! A sentence by its place in the catalogue, said in the language that is chosen.

use super::catalogue::{AFTER_CLASS, BETWEEN_FORMS, OTHER};
use super::language;
use leptos::prelude::{Signal, TextProp};
use leptos::tachys::html::attribute::IntoAttributeValue;
use leptos::tachys::view::IntoRender;
use std::fmt;
use std::ops::Deref;

/// A sentence of the catalogue. It is worded when it is shown, in the language chosen then.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Word(pub(super) u16);

impl Word {
    /// Returns the sentence in the language that is chosen.
    pub fn text(self) -> &'static str {
        language::text(self.0)
    }

    /// Returns the sentence as a string of its own.
    pub fn to_owned(self) -> String {
        self.text().to_owned()
    }

    /// Returns the sentence with its values.
    pub(super) fn with(self, values: &[&str]) -> String {
        fill(self.text(), values, None)
    }

    /// Returns the form of the sentence that fits `n`, with its values.
    pub(super) fn counted(self, n: usize, values: &[&str]) -> String {
        fill(form(self.text(), n), values, Some(n))
    }
}

/// Returns the form for `n`: the one for that number, else the one for its class, else the one for all else.
fn form(forms: &'static str, n: usize) -> &'static str {
    let of = |class: &str| {
        forms
            .split(BETWEEN_FORMS)
            .filter_map(|form| form.split_once(AFTER_CLASS))
            .find(|(named, _)| *named == class)
            .map(|(_, text)| text)
    };
    of(&n.to_string())
        .or_else(|| of(language::class(n)))
        .or_else(|| of(OTHER))
        .unwrap_or(forms)
}

/// Puts the values into their places; a value that looks like a place stays as it is.
fn fill(text: &str, values: &[&str], n: Option<usize>) -> String {
    let mut filled = String::with_capacity(text.len() + 16);
    let mut rest = text;
    while let Some((before, place)) = rest.split_once('{') {
        filled.push_str(before);
        let Some((name, after)) = place.split_once('}') else {
            break;
        };
        match (name, n) {
            ("n", Some(n)) => filled.push_str(&n.to_string()),
            _ => filled.push_str(
                name.parse::<usize>()
                    .ok()
                    .and_then(|at| values.get(at))
                    .unwrap_or(&""),
            ),
        }
        rest = after;
    }
    filled.push_str(rest);
    filled
}

impl Deref for Word {
    type Target = str;

    fn deref(&self) -> &str {
        self.text()
    }
}

impl fmt::Display for Word {
    fn fmt(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
        to.write_str(self.text())
    }
}

impl From<Word> for &'static str {
    fn from(word: Word) -> Self {
        word.text()
    }
}

impl From<Word> for String {
    fn from(word: Word) -> Self {
        word.text().to_owned()
    }
}

impl From<Word> for TextProp {
    fn from(word: Word) -> Self {
        word.text().into()
    }
}

impl From<Word> for Signal<String> {
    fn from(word: Word) -> Self {
        word.to_owned().into()
    }
}

impl IntoRender for Word {
    type Output = &'static str;

    fn into_render(self) -> Self::Output {
        self.text()
    }
}

impl IntoAttributeValue for Word {
    type Output = &'static str;

    fn into_attribute_value(self) -> Self::Output {
        self.text()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_come_into_their_places_and_are_not_read_again() {
        assert_eq!(
            fill("{1} before {0}.", &["a", "{0}"], None),
            "{0} before a."
        );
        assert_eq!(fill("{n} of {0}", &["{n}"], Some(3)), "3 of {n}");
    }

    #[test]
    fn a_count_takes_its_own_form_then_its_class_then_all_else() {
        let forms = "0\u{1e}none\u{1f}one\u{1e}1 is\u{1f}other\u{1e}{n} are";
        for (n, said) in [(0, "none"), (1, "1 is"), (2, "2 are"), (21, "21 are")] {
            assert_eq!(fill(form(forms, n), &[], Some(n)), said);
        }
    }
}
