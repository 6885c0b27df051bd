//! Which language the pages speak. A language is one file in `words/`; the build makes a table of each.

use super::pseudo;
use crate::platform;
use leptos::prelude::use_context;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU8, Ordering};

include!(concat!(env!("OUT_DIR"), "/tables.rs"));

/// The cookie that names the language, so that the server's pages and the program's speak the same.
pub const COOKIE: &str = "language";

/// A language that the pages can speak. English where nothing else was chosen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Language(u8);

/// English between brackets, with accents and long words: it shows what a page does not word.
const PSEUDO: Language = Language(u8::MAX);

/// What the program in the browser speaks. The server's pages take theirs from the context of each request.
static CHOSEN: AtomicU8 = AtomicU8::new(0);

impl Language {
    /// Returns the language of that tag, if the pages speak it.
    pub fn of_tag(tag: &str) -> Option<Self> {
        if tag == pseudo::TAG {
            return Some(PSEUDO);
        }
        let place = TABLES.iter().position(|(name, _)| *name == tag)?;
        u8::try_from(place).ok().map(Self)
    }

    /// Returns the tag for the page's `lang`.
    pub fn tag(self) -> &'static str {
        match self {
            PSEUDO => pseudo::TAG,
            Self(place) => TABLES[usize::from(place)].0,
        }
    }

    /// Returns the language that a page's cookies name, or English.
    pub fn of_cookies(cookies: &str) -> Self {
        cookies
            .split(';')
            .filter_map(|cookie| cookie.trim().split_once('='))
            .find(|(name, _)| *name == COOKIE)
            .and_then(|(_, tag)| Self::of_tag(tag))
            .unwrap_or_default()
    }

    /// Lets the program speak this language from now on.
    pub fn choose(self) {
        CHOSEN.store(self.0, Ordering::Relaxed);
    }

    /// Returns the language that is spoken here.
    pub fn spoken() -> Self {
        let of_the_request = if platform::ON_SERVER {
            use_context::<Self>()
        } else {
            None
        };
        of_the_request.unwrap_or_else(|| Self(CHOSEN.load(Ordering::Relaxed)))
    }

    fn table(self) -> &'static [&'static str; COUNT] {
        static MADE: OnceLock<[&'static str; COUNT]> = OnceLock::new();
        match self {
            PSEUDO => MADE.get_or_init(|| TABLES[0].1.map(|text| &*pseudo::of(text).leak())),
            Self(place) => &TABLES[usize::from(place)].1,
        }
    }
}

/// Returns a sentence in the language that is spoken, with its forms and the places of its values.
pub(super) fn text(at: u16) -> &'static str {
    Language::spoken().table()[usize::from(at)]
}

/// Returns the class of a number, by which a sentence with a count has its forms. A language whose numbers
/// fall into other classes gets its rule here.
pub(super) fn class(n: usize) -> &'static str {
    if n == 1 { "one" } else { "other" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cookie_names_the_language_and_anything_else_is_english() {
        assert_eq!(Language::of_cookies("a=b; language=en-XA").tag(), "en-XA");
        for cookies in [
            "",
            "language=",
            "language=tlh",
            "xlanguage=en-XA",
            "language",
        ] {
            assert_eq!(Language::of_cookies(cookies).tag(), "en", "{cookies}");
        }
    }

    #[test]
    fn each_language_says_each_sentence() {
        for (name, table) in TABLES {
            assert!(table.iter().all(|text| !text.is_empty()), "{name}");
        }
        assert_eq!(PSEUDO.table().len(), COUNT);
    }
}
