//! What the kinds of step read their part of a file with, and check it with.

use toml::de::DeTable;

use super::fields::Fields;
use super::{Notes, Placed, place};
use crate::definition::{Bound, Call, Limits, Point, Span, Step};
use crate::ids::StepId;

/// One table of a file, a step's or one within it, with where mistakes in it are noted.
pub(crate) struct FileTable<'r, 'n, 'f, 't> {
    pub(super) notes: &'r mut Notes<'n>,
    pub(super) fields: &'r mut Fields<'f, 't>,
    /// The step that stands before this one in the file.
    pub(super) previous: Option<&'r Step>,
}

impl<'r> FileTable<'r, '_, '_, '_> {
    /// Returns whether the table has a key at all.
    pub fn has(&self, key: &str) -> bool {
        self.fields.has(key)
    }

    /// Returns the step that stands before this one in the file.
    pub fn previous(&self) -> Option<&'r Step> {
        self.previous
    }

    /// Notes a mistake of the table as a whole.
    pub fn mistake(&mut self, what: impl Into<String>) {
        self.notes.mistake(self.fields.at(), what);
    }

    /// Notes a mistake where a key's value stands.
    pub fn mistake_at(&mut self, key: &str, what: impl Into<String>) {
        self.notes.mistake(self.fields.place(key), what);
    }

    /// Notes every key that nobody asked for.
    pub fn no_others(&mut self) {
        self.fields.no_others(self.notes);
    }

    /// Takes text.
    pub fn text(&mut self, key: &'static str) -> Option<String> {
        self.fields.text(self.notes, key)
    }

    /// Takes text that must be there.
    pub fn need_text(&mut self, key: &'static str) -> Option<String> {
        self.fields.need_text(self.notes, key)
    }

    /// Takes a name that must be there.
    pub fn need_name(&mut self, key: &'static str) -> Option<String> {
        self.fields.need_name(self.notes, key)
    }

    /// Takes a list of procedures by their short names; each is one of the library or of the ship.
    pub fn slugs(&mut self, key: &'static str) -> Option<Vec<String>> {
        let slugs = self.fields.texts(self.notes, key)?;
        let at = self.fields.place(key);
        for slug in &slugs {
            self.notes.check_slug(at, key, slug);
        }
        (!slugs.is_empty()).then_some(slugs)
    }

    /// Takes a list of texts.
    pub fn texts(&mut self, key: &'static str) -> Option<Vec<String>> {
        self.fields.texts(self.notes, key)
    }

    /// Takes one of some words.
    pub fn word<T: Copy>(&mut self, key: &'static str, words: &[(&str, T)]) -> Option<T> {
        self.fields.word(self.notes, key, words)
    }

    /// Takes true or false; false where there is nothing.
    pub fn yes_or_no(&mut self, key: &'static str) -> bool {
        self.fields.yes_or_no(self.notes, key)
    }

    /// Takes a whole number.
    pub fn whole(&mut self, key: &'static str) -> Option<u32> {
        self.fields.whole(self.notes, key)
    }

    /// Takes a length of time.
    pub fn span(&mut self, key: &'static str) -> Option<Span> {
        self.fields.span(self.notes, key)
    }

    /// Takes one limit.
    pub fn bound(&mut self, key: &'static str) -> Option<Bound> {
        self.fields.bound(self.notes, key)
    }

    /// Takes the name of one of the ship's settings, without the word before it.
    pub fn setting(&mut self, key: &'static str) -> Option<String> {
        let name = self.text(key)?;
        self.notes.check_setting(self.fields.place(key), key, &name);
        Some(name)
    }

    /// Takes the limits of a number.
    pub fn limits(&mut self) -> Limits {
        self.fields.limits(self.notes)
    }

    /// Takes every `[[key]]` within the table.
    pub fn each(
        &mut self,
        key: &'static str,
        mut take: impl FnMut(&mut FileTable<'_, '_, '_, '_>),
    ) {
        for (table, at) in self.fields.tables(self.notes, key) {
            take(&mut FileTable {
                notes: &mut *self.notes,
                fields: &mut Fields::new(table, at),
                previous: None,
            });
        }
    }

    /// Takes the points at which something is read.
    pub fn points(&mut self) -> Vec<Point> {
        let mut points: Vec<Point> = Vec::new();
        self.each("point", |entry| {
            let key = entry.need_name("key");
            let label = entry.need_text("label");
            let unit = entry.text("unit").unwrap_or_default();
            let limits = entry.limits();
            let only_if = entry.setting("only_if");
            let mut calls = Vec::new();
            entry.each("call", |call| {
                let from = call.bound("from");
                let say = call.need_text("say");
                if !call.has("from") {
                    call.mistake("'from' is missing");
                }
                call.no_others();
                if let (Some(from), Some(say)) = (from, say) {
                    calls.push(Call { from, say });
                }
            });
            entry.no_others();
            let (Some(key), Some(label)) = (key, label) else {
                return;
            };
            if points.iter().any(|point| point.key == key) {
                entry.mistake_at("key", format!("two points have the key \"{key}\""));
            }
            points.push(Point {
                key,
                label,
                unit,
                limits,
                calls: (!calls.is_empty()).then_some(calls),
                only_if,
            });
        });
        points
    }
}

/// A step that was read, with the steps before it and where mistakes in it are noted.
pub(crate) struct StepCheck<'a, 'n> {
    pub step: &'a Step,
    pub(super) notes: &'a mut Notes<'n>,
    pub(super) table: &'a DeTable<'a>,
    pub(super) at: usize,
    pub(super) before: &'a [Placed],
}

impl StepCheck<'_, '_> {
    /// Returns whether the file gives the step a key at all.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// Returns whether the file is to be put in force, and not read from the record.
    pub fn is_put_in_force(&self) -> bool {
        self.notes.slugs.is_some()
    }

    /// Finds an earlier step.
    pub fn earlier(&self, id: &StepId) -> Option<&Step> {
        let found = self.before.iter().find(|placed| placed.step.id == *id);
        found.map(|placed| &placed.step)
    }

    /// Notes a mistake where a key's value stands.
    pub fn mistake(&mut self, key: &str, what: impl Into<String>) {
        let at = place(self.table, key, self.at);
        self.notes.mistake(at, what);
    }

    /// Notes a mistake if no earlier step has the name that a key gives.
    pub fn names_earlier(&mut self, key: &str, name: &StepId) {
        if self.earlier(name).is_none() {
            let what = format!("'{key}' names \"{name}\", but no earlier step has that id");
            self.mistake(key, what);
        }
    }
}
