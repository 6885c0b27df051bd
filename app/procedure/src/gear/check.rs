//! Looks an item's card over before it is signed: what is wrong with it, and where.

use super::{DateKind, Day, ItemCard, Register, Service, described};
use crate::Decimal;

/// Where on a card something is wrong.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Where {
    /// Its code.
    Code,
    /// Its kind.
    Kind,
    /// Its name.
    Name,
    /// Its side.
    Side,
    /// Its certificate.
    Certificate,
    /// Its serial number.
    Serial,
    /// One of its dates.
    Date(DateKind),
    /// One of its figures.
    Figure(String),
    /// What it stands under.
    Under,
}

/// What is wrong with an item's card.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ItemFault {
    /// The code is not one that a label can have.
    #[error("a code has 2 to 12 capital letters, digits or hyphens, not {0:?}")]
    BadCode(String),
    /// The code is another item's, or was.
    #[error("the code {0} is taken, and no code is used twice")]
    CodeTaken(String),
    /// There is no such kind.
    #[error("there is no kind {0:?}")]
    NoKind(String),
    /// Nothing stands there.
    #[error("there is no name")]
    NoName,
    /// A text is too long.
    #[error("{0} letters are more than {MOST_LETTERS}")]
    TooLong(usize),
    /// The kind has one on each side.
    #[error("the side is missing: port, starboard or centre-line")]
    NoSide,
    /// The date lies after one that must come later.
    #[error("'{0}' lies after '{1}'")]
    DatesTurned(&'static str, &'static str),
    /// The date lies ahead.
    #[error("{0} has not come yet")]
    NotYet(Day),
    /// The kind has no such figure.
    #[error("a {kind} has no figure {key:?}")]
    NoFigure {
        /// What the kind is called.
        kind: String,
        /// The figure.
        key: String,
    },
    /// The figure is beyond what can be meant.
    #[error("{value} is not between {min} and {max} {unit}")]
    Beyond {
        /// What is given.
        value: Decimal,
        /// The least.
        min: Decimal,
        /// The most.
        max: Decimal,
        /// The unit.
        unit: String,
    },
    /// A figure is given twice.
    #[error("it is given twice")]
    Twice,
    /// There is no item of that code.
    #[error("no item {0} is on the register")]
    NoSuchItem(String),
    /// An item cannot stand under itself.
    #[error("an item cannot stand under itself")]
    UnderItself,
}

/// So many letters a name or a number may have.
const MOST_LETTERS: usize = 80;
const CODE_LETTERS: std::ops::RangeInclusive<usize> = 2..=12;

/// Looks a new item's code over.
///
/// # Errors
/// [`ItemFault`] if no label can have it, or if it is, or ever was, another item's.
pub fn check_code(register: &Register, code: &str) -> Result<(), ItemFault> {
    let good = |sign: char| sign.is_ascii_uppercase() || sign.is_ascii_digit() || sign == '-';
    if !CODE_LETTERS.contains(&code.len()) || !code.chars().all(good) {
        return Err(ItemFault::BadCode(code.to_owned()));
    }
    if register.item(code).is_some() || described::is_code(code) {
        return Err(ItemFault::CodeTaken(code.to_owned()));
    }
    Ok(())
}

/// Looks a card over; `beside` are the codes of items that are put on with it.
pub fn check_card(
    register: &Register,
    code: &str,
    card: &ItemCard,
    beside: &[String],
    today: Day,
) -> Vec<(Where, ItemFault)> {
    let mut faults = Vec::new();
    let kind = register.kind(&card.kind);
    if kind.is_none() {
        faults.push((Where::Kind, ItemFault::NoKind(card.kind.clone())));
    }
    if card.name.trim().is_empty() {
        faults.push((Where::Name, ItemFault::NoName));
    }
    let texts = [
        (Where::Name, &card.name),
        (Where::Certificate, &card.certificate),
        (Where::Serial, &card.serial),
    ];
    for (place, text) in texts {
        let letters = text.chars().count();
        if letters > MOST_LETTERS {
            faults.push((place, ItemFault::TooLong(letters)));
        }
    }
    if kind.is_some_and(|kind| kind.sided) && card.side.is_none() {
        faults.push((Where::Side, ItemFault::NoSide));
    }
    check_dates(card, today, &mut faults);
    for (at, (key, value)) in card.figures.iter().enumerate() {
        let place = Where::Figure(key.clone());
        if card.figures[..at].iter().any(|(other, _)| other == key) {
            faults.push((place.clone(), ItemFault::Twice));
        }
        let Some(kind) = kind else { continue };
        match kind.figure(key) {
            None => {
                let (kind, key) = (kind.name.clone(), key.clone());
                faults.push((place, ItemFault::NoFigure { kind, key }));
            }
            Some(figure) if *value < figure.min || *value > figure.max => {
                let fault = ItemFault::Beyond {
                    value: *value,
                    min: figure.min,
                    max: figure.max,
                    unit: figure.unit.clone(),
                };
                faults.push((place, fault));
            }
            Some(_) => {}
        }
    }
    if let Some(under) = &card.under {
        let known = register.item(under);
        let is_there = known.is_some_and(|file| file.now().service != Service::Off);
        if under == code {
            faults.push((Where::Under, ItemFault::UnderItself));
        } else if !is_there && !beside.contains(under) {
            faults.push((Where::Under, ItemFault::NoSuchItem(under.clone())));
        }
    }
    faults
}

fn check_dates(card: &ItemCard, today: Day, faults: &mut Vec<(Where, ItemFault)>) {
    let mut before: Option<(DateKind, Day)> = None;
    for kind in DateKind::ALL {
        let Some(day) = card.date(kind) else { continue };
        if !kind.is_end() && day > today {
            faults.push((Where::Date(kind), ItemFault::NotYet(day)));
        }
        if let Some((earlier, first)) = before
            && first > day
        {
            let fault = ItemFault::DatesTurned(earlier.words(), kind.words());
            faults.push((Where::Date(kind), fault));
        }
        if !kind.is_end() {
            before = Some((kind, day));
        }
    }
}
