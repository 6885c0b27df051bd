//! Sentences of the ship's instruments: NMEA 0183, read strictly.
//!
//! A sentence counts when its checksum is right and each field that is used lies within what the
//! quantity can be. Anything else is a [`Refused`], to be counted and shown and never believed. A
//! sentence that says "no fix" is not wrong: it is read, and has no place.
//!
//! # Source
//! The layout of fields as makers of instruments publish it in their manuals; AIS payloads by
//! ITU-R M.1371-5, annex 8. Both from memory, checked against published sentences in the tests.

pub mod ais;
mod field;
mod talk;

use serde::{Deserialize, Serialize};

use crate::position::Position;
use field::Fields;

/// What is longer is refused unread. The standard allows 82 characters; some makers send more.
pub const LONGEST: usize = 256;

/// Why a sentence was not believed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refused {
    /// It is longer than [`LONGEST`].
    #[error("the sentence is longer than {LONGEST} characters")]
    TooLong,
    /// It does not begin with `$` or `!`, or holds what no sentence may hold.
    #[error("this is not a sentence")]
    NotASentence,
    /// There is no checksum behind a `*`.
    #[error("the sentence has no checksum")]
    NoChecksum,
    /// The checksum is another.
    #[error("the checksum is {given:02X}, but the sentence comes to {sum:02X}")]
    Checksum {
        /// As the sentence has it.
        given: u8,
        /// As its characters come to.
        sum: u8,
    },
    /// A field is missing, is not a number or lies outside what it can be.
    #[error("{sentence}: {field} is missing or cannot be right")]
    Field {
        /// The sentence's three letters.
        sentence: String,
        /// Which field.
        field: &'static str,
    },
}

/// How a place was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Quality {
    /// By satellites alone, or nobody says.
    Alone,
    /// With differential correction, or better.
    Differential,
}

/// Which sentence told a place; the earlier ones say more about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub enum FixKind {
    /// GGA or GNS: with quality and HDOP.
    Full,
    /// RMC.
    Least,
    /// GLL.
    PlaceAlone,
}

/// A place as a receiver tells it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fix {
    /// Which sentence told it.
    pub kind: FixKind,
    /// Time of the day in milliseconds, if the sentence has it.
    pub time_of_day_ms: Option<u32>,
    /// The place; none where the receiver says that it has no fix, or that it only reckons.
    pub place: Option<Position>,
    /// How it was found.
    pub quality: Quality,
    /// How much the satellites' geometry dilutes it in the horizontal.
    pub hdop: Option<f64>,
    /// How many decimals the minutes of its latitude have.
    pub decimals: u8,
}

/// Whether a direction is by the true or the magnetic north.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum North {
    /// True.
    True,
    /// Magnetic, with the variation if the sentence has it (east positive).
    Magnetic(Option<f64>),
}

/// Where a wind's angle is counted from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum WindFrom {
    /// From the bow, as felt aboard (MWV, R).
    Apparent,
    /// From the bow, reckoned for a ship that lies still (MWV, T).
    Bow,
    /// From true north (MWD).
    North,
}

/// What a depth is counted from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum DepthFrom {
    /// The transducer, with its offset where the sentence has one: above 0 up to the waterline, below 0
    /// down to the keel.
    Transducer(Option<f64>),
    /// The waterline (DBS).
    Surface,
    /// The keel (DBK).
    Keel,
}

/// What a sentence says.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// GGA, GNS, GLL.
    Fix(Fix),
    /// RMC: a place, and how she moves over the ground.
    Least {
        /// The place.
        fix: Fix,
        /// How she moves.
        motion: Motion,
        /// The variation, east positive.
        variation_deg: Option<f64>,
    },
    /// VTG.
    Motion(Motion),
    /// HDT, THS, HDG; none where the compass says that it is not to be trusted.
    Heading {
        /// Degrees.
        heading_deg: Option<f64>,
        /// By which north.
        north: North,
    },
    /// ROT: degrees a minute, to starboard positive.
    Turn(Option<f64>),
    /// MWV, MWD; none where the instrument says that it is not valid.
    Wind {
        /// Where the wind comes from, degrees.
        angle_deg: Option<f64>,
        /// Counted from where.
        from: WindFrom,
        /// Knots.
        speed_kn: Option<f64>,
    },
    /// DPT, DBT, DBS, DBK; none where there was no echo.
    Depth {
        /// Metres.
        depth_m: Option<f64>,
        /// Counted from where.
        from: DepthFrom,
    },
    /// DTM: whether places are on WGS 84.
    Datum {
        /// They are.
        is_wgs84: bool,
        /// The datum's name as sent.
        name: String,
    },
    /// VDM or VDO: a part of an AIS message.
    Ais(ais::Part),
    /// A whole sentence of which nothing is used.
    Unused,
}

/// How a ship moves over the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Motion {
    /// Knots.
    pub speed_kn: Option<f64>,
    /// Degrees true.
    pub course_deg: Option<f64>,
}

/// A sentence that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Sentence {
    /// Who talks: two letters, or `P` for a maker's own sentence.
    pub talker: [u8; 2],
    /// What it says.
    pub said: Said,
}

/// Reads one sentence, from its `$` or `!`, or the tag block before it, to the end of the line.
///
/// # Errors
/// [`Refused`] says why it is not to be believed.
pub fn read(line: &[u8]) -> Result<Sentence, Refused> {
    let line = line.trim_ascii();
    if line.len() > LONGEST {
        return Err(Refused::TooLong);
    }
    let line = after_tag_block(line)?;
    let (begin, rest) = line.split_first().ok_or(Refused::NotASentence)?;
    if ![b'$', b'!'].contains(begin) || !rest.iter().all(|byte| matches!(byte, 0x20..=0x7e)) {
        return Err(Refused::NotASentence);
    }
    let star = rest.iter().rposition(|byte| *byte == b'*');
    let (body, sum) = rest.split_at(star.ok_or(Refused::NoChecksum)?);
    let given = field::hexadecimal(&sum[1..]).ok_or(Refused::NoChecksum)?;
    let sum = body.iter().fold(0, |sum, byte| sum ^ byte);
    if given != sum {
        return Err(Refused::Checksum { given, sum });
    }
    let text = std::str::from_utf8(body).map_err(|_| Refused::NotASentence)?;
    talk::read(*begin, text)
}

/// Returns what comes after a tag block (`\...\`), which some sources put before each sentence.
fn after_tag_block(line: &[u8]) -> Result<&[u8], Refused> {
    let Some(rest) = line.strip_prefix(b"\\") else {
        return Ok(line);
    };
    let end = rest.iter().position(|byte| *byte == b'\\');
    Ok(&rest[end.ok_or(Refused::NotASentence)? + 1..])
}

#[cfg(test)]
mod tests;
