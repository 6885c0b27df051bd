//! A language for tests: English between brackets, with accents and words that are two fifths longer. What
//! stands on a page outside the brackets is not worded; what breaks the page would break it in a language
//! with long words.

use super::catalogue::{AFTER_CLASS, BETWEEN_FORMS};

/// The tag by which it is chosen: English, from the region that stands for accents.
pub const TAG: &str = "en-XA";

fn accented(sign: char) -> char {
    match sign {
        'a' => 'á',
        'e' => 'é',
        'i' => 'í',
        'o' => 'ó',
        'u' => 'ú',
        'y' => 'ý',
        'c' => 'ç',
        'n' => 'ñ',
        'A' => 'Á',
        'E' => 'É',
        'I' => 'Í',
        'O' => 'Ó',
        'U' => 'Ú',
        other => other,
    }
}

/// Writes one form: its letters with accents, each vowel twice, its values as they are.
fn written(text: &str) -> String {
    let mut said = String::from("⟦");
    let mut in_value = false;
    for sign in text.chars() {
        in_value |= sign == '{';
        let new = if in_value { sign } else { accented(sign) };
        said.push(new);
        if !in_value && "aeiou".contains(sign) {
            said.push(new);
        }
        in_value &= sign != '}';
    }
    said.push('⟧');
    said
}

/// Returns a sentence of the catalogue in this language, with the same forms and values.
pub fn of(text: &str) -> String {
    let forms: Vec<String> = text
        .split(BETWEEN_FORMS)
        .map(|form| match form.split_once(AFTER_CLASS) {
            Some((class, text)) => format!("{class}{AFTER_CLASS}{}", written(text)),
            None => written(form),
        })
        .collect();
    forms.join(&BETWEEN_FORMS.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letters_are_longer_and_accented_and_values_stay() {
        assert_eq!(of("Held at {0}, {name}."), "⟦Hééld áát {0}, {name}.⟧");
        assert_eq!(
            of("one\u{1e}1 is\u{1f}other\u{1e}{n} are"),
            "one\u{1e}⟦1 íís⟧\u{1f}other\u{1e}⟦{n} ááréé⟧"
        );
    }

    #[test]
    fn a_sentence_grows_by_about_two_fifths() {
        let said = "It may be on another phone that has not been in range. Go back to the list.";
        let (before, after) = (said.chars().count(), of(said).chars().count());
        assert!(
            (before * 13..before * 15).contains(&(after * 10)),
            "{before} {after}"
        );
    }
}
