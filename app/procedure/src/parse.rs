//! Reads a procedure's file, and says what is wrong with it by file, line and step.

use std::fmt;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::definition::{Procedure, Step};
use crate::ids::Role;

mod fields;
mod kinds;
mod names;
mod order;
mod step;
mod table;

use fields::Fields;
pub use kinds::{parse_gear_kinds, parse_gear_kinds_on_record};
pub(crate) use table::{FileTable, StepCheck};

/// One mistake in a procedure's file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mistake {
    /// The file.
    pub file: String,
    /// The line, from 1.
    pub line: u32,
    /// The step, when the mistake is in one.
    pub step: Option<String>,
    /// What is wrong.
    pub what: String,
}

impl fmt::Display for Mistake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}: ", self.file, self.line)?;
        if let Some(step) = &self.step {
            write!(f, "step \"{step}\": ")?;
        }
        f.write_str(&self.what)
    }
}

impl std::error::Error for Mistake {}

/// Reads a procedure from the text of its file, as one that is to be put in force: the settings, computed values
/// and procedures of the library that it names must be there.
///
/// # Errors
/// Every mistake found, in the order of the file's lines.
pub fn parse(file_name: &str, toml_text: &str) -> Result<Procedure, Vec<Mistake>> {
    read(file_name, toml_text, Some(&[]))
}

/// Reads a procedure as [`parse()`] does, where the ship has procedures of her own besides the library's.
///
/// # Errors
/// As [`parse()`].
pub fn parse_aboard(
    file_name: &str,
    toml_text: &str,
    own_slugs: &[&str],
) -> Result<Procedure, Vec<Mistake>> {
    read(file_name, toml_text, Some(own_slugs))
}

/// Reads a procedure that is on record already: an older edition may name what is not there any more, and its runs
/// are read all the same. What it names in vain keeps a step from passing.
///
/// # Errors
/// As [`parse()`], but for names.
pub fn parse_on_record(file_name: &str, toml_text: &str) -> Result<Procedure, Vec<Mistake>> {
    read(file_name, toml_text, None)
}

fn read(
    file_name: &str,
    toml_text: &str,
    slugs: Option<&[&str]>,
) -> Result<Procedure, Vec<Mistake>> {
    let mut notes = Notes {
        file: file_name,
        text: toml_text,
        step: None,
        slugs,
        own_slug: None,
        mistakes: Vec::new(),
    };
    let (table, errors) = DeTable::parse_recoverable(toml_text);
    for error in errors {
        let at = error.span().map_or(0, |span| span.start);
        notes.mistake(at, format!("not TOML: {}", error.message()));
    }
    if notes.mistakes.is_empty() {
        let read = read_procedure(&mut notes, &table);
        if let (Some(procedure), true) = (read, notes.mistakes.is_empty()) {
            return Ok(procedure);
        }
    }
    Err(mistakes_of(notes).unwrap_or_default())
}

/// Returns what was noted, by line; nothing where all is well.
fn mistakes_of(notes: Notes<'_>) -> Option<Vec<Mistake>> {
    let mut mistakes = notes.mistakes;
    mistakes.sort_by_key(|mistake| mistake.line);
    (!mistakes.is_empty()).then_some(mistakes)
}

/// Collects mistakes with where they are.
pub(crate) struct Notes<'t> {
    file: &'t str,
    text: &'t str,
    step: Option<String>,
    /// The ship's own procedures; none when names are not to be checked.
    slugs: Option<&'t [&'t str]>,
    own_slug: Option<String>,
    mistakes: Vec<Mistake>,
}

impl Notes<'_> {
    fn mistake(&mut self, at: usize, what: impl Into<String>) {
        let before = self.text.get(..at).unwrap_or(self.text);
        let lines = before.matches('\n').count();
        self.mistakes.push(Mistake {
            file: self.file.to_owned(),
            line: u32::try_from(lines + 1).unwrap_or(u32::MAX),
            step: self.step.clone(),
            what: what.into(),
        });
    }
}

/// A step as read, with where its parts stand in the file, for the checks that need all steps.
pub(crate) struct Placed {
    step: Step,
    at: usize,
}

fn read_procedure(notes: &mut Notes<'_>, table: &Spanned<DeTable<'_>>) -> Option<Procedure> {
    let mut fields = Fields::new(table.get_ref(), 0);
    let slug = fields.need_name(notes, "slug");
    notes.own_slug.clone_from(&slug);
    let title = fields.need_text(notes, "title");
    let edition = fields.need_text(notes, "edition");
    let purpose = fields.need_text(notes, "purpose");
    let cautions = fields.texts(notes, "cautions").unwrap_or_default();
    let close_by = fields.word(notes, "close_by", ABOARD).unwrap_or(Role::Crew);
    let every = fields.span(notes, "every");
    let tables = fields.tables(notes, "step");
    fields.no_others(notes);
    if tables.is_empty() {
        notes.mistake(0, "there is no [[step]]");
    }
    let mut steps: Vec<Placed> = Vec::with_capacity(tables.len());
    for (table, at) in tables {
        if let Some(step) = step::read_step(notes, table, at, &steps) {
            order::check(&mut StepCheck {
                step: &step,
                notes: &mut *notes,
                table,
                at,
                before: &steps,
            });
            steps.push(Placed { step, at });
        }
        notes.step = None;
    }
    order::check_renewals(notes, &steps);
    Some(Procedure {
        slug: slug?,
        title: title?,
        edition: edition?,
        purpose: purpose?,
        cautions,
        close_by,
        every,
        steps: steps.into_iter().map(|placed| placed.step).collect(),
    })
}

/// Who aboard may do a step, close a run or consent.
pub(crate) const ABOARD: &[(&str, Role)] = &[
    ("crew", Role::Crew),
    ("officer", Role::Officer),
    ("master", Role::Master),
];

/// Returns where a key's value stands in the file, or the table's own place.
fn place(table: &DeTable<'_>, key: &str, otherwise: usize) -> usize {
    let value: Option<&Spanned<DeValue<'_>>> = table.get(key);
    value.map_or(otherwise, |value| value.span().start)
}
