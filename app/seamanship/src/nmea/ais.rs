//! AIS: what other ships tell of themselves, put together from its parts and unpacked.
//!
//! # Source
//! ITU-R M.1371-5, annex 8; from memory, checked against published sentences in the tests.

mod message;

use serde::{Deserialize, Serialize};

use super::field::Fields;
use super::{Refused, Said};

pub use message::{Report, Told, unpack};

/// How many messages may be half there at once; the oldest makes room.
const MOST_WAITING: usize = 8;
/// How long the rest of a message is waited for.
const LONGEST_WAIT_MS: i64 = 10_000;
/// The most parts that a message of AIS comes in: 1064 bits.
const MOST_PARTS: u8 = 5;
/// The most characters in one part, as a sentence of the standard's length holds.
const MOST_CHARACTERS: usize = 82;

/// A part of a message: one sentence's.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Part {
    /// Told by the ship's own transponder of herself (VDO).
    pub is_own: bool,
    /// How many parts the message has.
    pub parts: u8,
    /// Which this is, from 1.
    pub number: u8,
    /// What the parts of one message have in common.
    pub group: Option<u8>,
    /// The channel it was heard on.
    pub channel: Option<char>,
    /// The packed characters.
    pub packed: String,
    /// How many bits at the end fill the last character up.
    pub fill: u8,
}

impl Part {
    /// Reads the fields of VDM or VDO.
    pub(super) fn read(fields: &Fields, is_own: bool) -> Result<Self, Refused> {
        let digit = |at, field, digits| -> Result<u8, Refused> {
            let digit = fields.letter(at, field, digits)?.to_digit(10);
            let digit = digit.and_then(|digit| u8::try_from(digit).ok());
            digit.ok_or_else(|| fields.wrong(field))
        };
        let parts = digit(0, "parts", "12345")?;
        let number = digit(1, "part", "12345")?;
        let group = match fields.text(2) {
            "" => None,
            _ => Some(digit(2, "group", "0123456789")?),
        };
        let packed = fields.text(4);
        let is_packed = |byte: u8| matches!(byte, 0x30..=0x57 | 0x60..=0x77);
        if number > parts || parts > MOST_PARTS || (parts > 1 && group.is_none()) {
            return Err(fields.wrong("part"));
        }
        if packed.is_empty() || packed.len() > MOST_CHARACTERS || !packed.bytes().all(is_packed) {
            return Err(fields.wrong("payload"));
        }
        Ok(Self {
            is_own,
            parts,
            number,
            group,
            channel: fields.text(3).chars().next(),
            packed: packed.to_owned(),
            fill: digit(5, "fill bits", "012345")?,
        })
    }

    /// Whether `next` carries on where this leaves off.
    fn goes_on_with(&self, next: &Self) -> bool {
        self.is_own == next.is_own
            && self.parts == next.parts
            && self.group == next.group
            && self.channel == next.channel
            && next.number == self.number + 1
    }
}

/// Messages of which the first parts have come.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Assembly {
    waiting: Vec<(i64, Part)>,
}

impl Assembly {
    /// Takes a part that came at `now_ms`, and returns what the message says when it is whole.
    ///
    /// # Errors
    /// [`Refused`] for a part that follows none, and for a message that cannot be right.
    pub fn take(&mut self, now_ms: i64, part: &Part) -> Result<Option<Report>, Refused> {
        self.waiting
            .retain(|(at, _)| now_ms.saturating_sub(*at) <= LONGEST_WAIT_MS);
        let whole = if part.number == 1 {
            part.clone()
        } else {
            let begun = self
                .waiting
                .iter()
                .position(|(_, begun)| begun.goes_on_with(part));
            let wrong = || Refused::Field {
                sentence: "VDM".to_owned(),
                field: "part",
            };
            let (_, begun) = self.waiting.remove(begun.ok_or_else(wrong)?);
            Part {
                packed: begun.packed + &part.packed,
                ..part.clone()
            }
        };
        if whole.number == whole.parts {
            return unpack(&whole);
        }
        // Another first part of the same name takes the earlier one's place.
        self.waiting.retain(|(_, begun)| {
            (begun.is_own, begun.group, begun.channel) != (whole.is_own, whole.group, whole.channel)
        });
        if self.waiting.len() >= MOST_WAITING {
            self.waiting.remove(0);
        }
        self.waiting.push((now_ms, whole));
        Ok(None)
    }
}

/// Returns the part that a sentence carries, if it is one of AIS.
pub fn part_of(said: &Said) -> Option<&Part> {
    match said {
        Said::Ais(part) => Some(part),
        _ => None,
    }
}
