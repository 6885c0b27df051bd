//! Reads kinds of gear.

use toml::de::DeTable;

use super::fields::Fields;
use super::{Mistake, Notes, mistakes_of, place};
use crate::definition::Bound;
use crate::gear::{DateKind, Figure, GearKind, Interval, Room};

const ROOMS: &[(&str, Room)] = &[
    ("deck", Room::Deck),
    ("locker", Room::Locker),
    ("bridge", Room::Bridge),
    ("store", Room::Store),
];

/// Reads a file of kinds of gear that is to be put in force: the settings that it names must be there.
///
/// # Errors
/// Every mistake, with its line.
pub fn parse_gear_kinds(file_name: &str, toml_text: &str) -> Result<Vec<GearKind>, Vec<Mistake>> {
    read(file_name, toml_text, Some(&[]))
}

/// Reads kinds of gear that are on record already: what they name may be another edition's.
///
/// # Errors
/// As [`parse_gear_kinds`], but for names.
pub fn parse_gear_kinds_on_record(toml_text: &str) -> Result<Vec<GearKind>, Vec<Mistake>> {
    read("kinds.toml", toml_text, None)
}

fn read(
    file_name: &str,
    toml_text: &str,
    slugs: Option<&[&str]>,
) -> Result<Vec<GearKind>, Vec<Mistake>> {
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
    let mut kinds: Vec<GearKind> = Vec::new();
    if notes.mistakes.is_empty() {
        let mut fields = Fields::new(table.get_ref(), 0);
        let tables = fields.tables(&mut notes, "kind");
        fields.no_others(&mut notes);
        if tables.is_empty() {
            notes.mistake(0, "there is no [[kind]]");
        }
        for (table, at) in tables {
            let Some(kind) = read_kind(&mut notes, table, at) else {
                continue;
            };
            if kinds.iter().any(|known| known.key == kind.key) {
                let what = format!("two kinds have the key \"{}\"", kind.key);
                notes.mistake(place(table, "key", at), what);
            }
            kinds.push(kind);
        }
    }
    mistakes_of(notes).map_or(Ok(kinds), Err)
}

fn read_kind(notes: &mut Notes<'_>, table: &DeTable<'_>, at: usize) -> Option<GearKind> {
    let mut fields = Fields::new(table, at);
    let key = fields.need_name(notes, "key");
    let name = fields.need_text(notes, "name");
    let job = fields.need_text(notes, "job");
    let gear = fields.texts(notes, "gear").unwrap_or_default();
    let room = fields.word(notes, "room", ROOMS);
    if !fields.has("room") {
        notes.mistake(at, "'room' is missing");
    }
    let sided = fields.yes_or_no(notes, "sided");
    let dates = read_dates(notes, &mut fields, table, at);
    let source = fields.need_text(notes, "source");
    let mut figures: Vec<Figure> = Vec::new();
    for (table, at) in fields.tables(notes, "figure") {
        let Some(figure) = read_figure(notes, table, at) else {
            continue;
        };
        if figures.iter().any(|known| known.key == figure.key) {
            let what = format!("two figures have the key \"{}\"", figure.key);
            notes.mistake(place(table, "key", at), what);
        }
        figures.push(figure);
    }
    let mut intervals = Vec::new();
    for (table, at) in fields.tables(notes, "interval") {
        let mut fields = Fields::new(table, at);
        let what = fields.need_text(notes, "what");
        let every = fields.span(notes, "every");
        if !fields.has("every") {
            notes.mistake(at, "'every' is missing");
        }
        let source = fields.need_text(notes, "source");
        fields.no_others(notes);
        if let (Some(what), Some(every), Some(source)) = (what, every, source) {
            intervals.push(Interval {
                what,
                every,
                source,
            });
        }
    }
    fields.no_others(notes);
    Some(GearKind {
        key: key?,
        name: name?,
        job: job?,
        gear,
        room: room?,
        sided,
        dates,
        figures,
        intervals,
        source: source?,
    })
}

fn read_dates(
    notes: &mut Notes<'_>,
    fields: &mut Fields<'_, '_>,
    table: &DeTable<'_>,
    at: usize,
) -> Vec<DateKind> {
    let mut dates = Vec::new();
    for name in fields.texts(notes, "dates").unwrap_or_default() {
        let mut ends = DateKind::ALL.into_iter().filter(|date| date.is_end());
        if let Some(date) = ends.find(|date| date.name() == name) {
            dates.push(date);
        } else {
            let what = format!(
                "'dates' names \"{name}\"; known are \"tested-until\", \"calibrated-until\", \"renew-by\""
            );
            notes.mistake(place(table, "dates", at), what);
        }
    }
    dates
}

fn read_figure(notes: &mut Notes<'_>, table: &DeTable<'_>, at: usize) -> Option<Figure> {
    let mut fields = Fields::new(table, at);
    let key = fields.need_name(notes, "key");
    let label = fields.need_text(notes, "label");
    let unit = fields.text(notes, "unit").unwrap_or_default();
    let mut bounds = Vec::new();
    for name in ["min", "max"] {
        match fields.bound(notes, name) {
            Some(Bound::Number(number)) => bounds.push(number),
            Some(_) => notes.mistake(fields.place(name), format!("'{name}' must be a number")),
            None if fields.has(name) => {}
            None => notes.mistake(at, format!("'{name}' is missing")),
        }
    }
    fields.no_others(notes);
    let [min, max] = <[_; 2]>::try_from(bounds).ok()?;
    if min > max {
        notes.mistake(at, format!("{min} and {max} leave no number between them"));
    }
    Some(Figure {
        key: key?,
        label: label?,
        unit,
        min,
        max,
    })
}
