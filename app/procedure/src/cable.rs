//! The ship's cables as they lie in the locker: their lengths, how the joints are painted, what stays inboard.
//!
//! Lengths differ from piece to piece and colours from ship to ship, so both are the ship's own. The master
//! writes them as text, a line for each length from the anchor inboard: its metres, then the paints of the
//! joint at its inboard end.

use crate::Decimal;
pub use seamanship::plan::Side;
use serde::{Deserialize, Serialize};

/// Lengths of a cable, at most: more than any ship of this size has.
const MOST_LENGTHS: usize = 40;
/// Paints of one joint, at most.
const MOST_PAINTS: usize = 4;

/// Both anchors.
pub const BOTH: [Side; 2] = [Side::Port, Side::Starboard];

/// Returns a side's word, as a procedure's choice of the anchor has it.
pub fn side_word(side: Side) -> &'static str {
    match side {
        Side::Port => "port",
        Side::Starboard => "starboard",
    }
}

/// Finds the side of that word.
pub fn side_of(word: &str) -> Option<Side> {
    BOTH.into_iter().find(|side| side_word(*side) == word)
}

/// The paint of a joint.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Paint {
    /// White.
    White,
    /// Red.
    Red,
    /// Blue.
    Blue,
    /// Yellow.
    Yellow,
    /// Green.
    Green,
    /// Orange.
    Orange,
    /// Black.
    Black,
}

/// How a side stands in a record: 0 for port, 1 for starboard, nothing where none is named.
#[expect(
    clippy::ref_option,
    clippy::trivially_copy_pass_by_ref,
    clippy::option_option,
    clippy::unnecessary_wraps,
    reason = "minicbor's `with` and `has_nil` say how these look"
)]
pub(crate) mod side_cbor {
    use super::Side;
    use minicbor::decode::{self, Decoder};
    use minicbor::encode::{self, Encoder, Write};

    pub(crate) fn encode<C, W: Write>(
        side: &Option<Side>,
        to: &mut Encoder<W>,
        _: &mut C,
    ) -> Result<(), encode::Error<W::Error>> {
        match side {
            None => to.null()?.ok(),
            Some(Side::Port) => to.u8(0)?.ok(),
            Some(Side::Starboard) => to.u8(1)?.ok(),
        }
    }

    pub(crate) fn decode<C>(
        from: &mut Decoder<'_>,
        _: &mut C,
    ) -> Result<Option<Side>, decode::Error> {
        let at = from.position();
        if from.datatype()? == minicbor::data::Type::Null {
            from.null()?;
            return Ok(None);
        }
        match from.u8()? {
            0 => Ok(Some(Side::Port)),
            1 => Ok(Some(Side::Starboard)),
            other => Err(decode::Error::unknown_variant(i64::from(other)).at(at)),
        }
    }

    /// What a record without the field says.
    pub(crate) const fn nil() -> Option<Option<Side>> {
        Some(None)
    }

    pub(crate) const fn is_nil(side: &Option<Side>) -> bool {
        side.is_none()
    }
}

impl Paint {
    /// Every paint.
    pub const ALL: [Self; 7] = [
        Self::White,
        Self::Red,
        Self::Blue,
        Self::Yellow,
        Self::Green,
        Self::Orange,
        Self::Black,
    ];

    /// Returns the paint's name.
    pub fn name(self) -> &'static str {
        match self {
            Self::White => "white",
            Self::Red => "red",
            Self::Blue => "blue",
            Self::Yellow => "yellow",
            Self::Green => "green",
            Self::Orange => "orange",
            Self::Black => "black",
        }
    }
}

/// One length of a cable, with the joint at its inboard end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Length {
    /// Metres.
    pub metres: Decimal,
    /// The joint's paints, in the order in which they pass; none where it is not painted.
    #[serde(default)]
    pub paints: Vec<Paint>,
}

/// One cable, from the anchor to the bitter end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cable {
    /// Its lengths, the anchor's first.
    pub lengths: Vec<Length>,
    /// What stays inboard of the gypsy whatever happens, m.
    pub keep_m: Decimal,
}

/// The cables that the master has described.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Cables {
    /// Of the port anchor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub port: Option<Cable>,
    /// Of the starboard anchor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub starboard: Option<Cable>,
}

impl Cables {
    /// Says whether none is described.
    pub fn is_empty(&self) -> bool {
        self.port.is_none() && self.starboard.is_none()
    }

    /// Finds the cable of a side.
    pub fn of(&self, side: Side) -> Option<&Cable> {
        match side {
            Side::Port => self.port.as_ref(),
            Side::Starboard => self.starboard.as_ref(),
        }
    }

    /// Describes the cable of a side.
    pub fn set(&mut self, side: Side, cable: Cable) {
        match side {
            Side::Port => self.port = Some(cable),
            Side::Starboard => self.starboard = Some(cable),
        }
    }
}

/// Why a description of a cable is not one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CableError {
    /// A line does not begin with a length.
    #[error("line {line}: {word:?} is no length in metres, from 1 to 60")]
    NoLength {
        /// Which line; 1 is the first.
        line: usize,
        /// What stands there.
        word: String,
    },
    /// A word is no paint.
    #[error(
        "line {line}: {word:?} is no paint; there are white, red, blue, yellow, green, orange, black"
    )]
    NoPaint {
        /// Which line.
        line: usize,
        /// What stands there.
        word: String,
    },
    /// Too many paints.
    #[error("line {line}: a joint has at most {MOST_PAINTS} paints")]
    TooManyPaints {
        /// Which line.
        line: usize,
    },
    /// There are no lengths, or too many.
    #[error("a cable has from 1 to {MOST_LENGTHS} lengths, a line each; here are {0}")]
    Count(usize),
    /// What stays inboard is no length of this cable.
    #[error("what stays inboard is a length in metres, less than the whole cable")]
    Keep,
}

impl Cable {
    /// Reads a description: a line for each length, and what stays inboard.
    ///
    /// # Errors
    /// [`CableError`] with the line and the word that is wrong.
    ///
    /// ```
    /// let cable = procedure::Cable::parse("27.5 red\n27 white blue\n27.5", "27.5").unwrap();
    /// assert_eq!(cable.metres_at(2.0), 54.5);
    /// assert_eq!(cable.paints_of(2).len(), 2);
    /// ```
    pub fn parse(text: &str, keep_m: &str) -> Result<Self, CableError> {
        let mut lengths = Vec::new();
        for (line, words) in (1..).zip(text.lines()) {
            let mut words = words.split_whitespace();
            let Some(first) = words.next() else { continue };
            let metres: Option<Decimal> = first.parse().ok();
            let metres = metres.filter(|metres| (1.0..=60.0).contains(&metres.to_f64()));
            let metres = metres.ok_or_else(|| CableError::NoLength {
                line,
                word: first.to_owned(),
            })?;
            let mut paints = Vec::new();
            for word in words {
                let found = Paint::ALL
                    .into_iter()
                    .find(|paint| paint.name().eq_ignore_ascii_case(word));
                paints.push(found.ok_or_else(|| CableError::NoPaint {
                    line,
                    word: word.to_owned(),
                })?);
            }
            if paints.len() > MOST_PAINTS {
                return Err(CableError::TooManyPaints { line });
            }
            lengths.push(Length { metres, paints });
        }
        if lengths.is_empty() || lengths.len() > MOST_LENGTHS {
            return Err(CableError::Count(lengths.len()));
        }
        let keep_m: Decimal = keep_m.trim().parse().map_err(|_| CableError::Keep)?;
        let cable = Self { lengths, keep_m };
        if !(0.0..cable.total_m()).contains(&keep_m.to_f64()) {
            return Err(CableError::Keep);
        }
        Ok(cable)
    }

    /// Writes the lengths as [`Cable::parse`] reads them.
    pub fn text(&self) -> String {
        let line = |length: &Length| {
            let paints = length.paints.iter().map(|paint| paint.name());
            let words: Vec<String> = std::iter::once(length.metres.to_string())
                .chain(paints.map(str::to_owned))
                .collect();
            words.join(" ")
        };
        let lines: Vec<String> = self.lengths.iter().map(line).collect();
        lines.join("\n")
    }

    /// Returns the whole length, m.
    pub fn total_m(&self) -> f64 {
        self.lengths
            .iter()
            .map(|length| length.metres.to_f64())
            .sum()
    }

    /// Returns how far a mark is from the anchor, m; part of a mark is that part of the next length.
    pub fn metres_at(&self, mark: f64) -> f64 {
        let mut left = mark.max(0.0);
        let mut metres = 0.0;
        for length in &self.lengths {
            metres += length.metres.to_f64() * left.min(1.0);
            left = (left - 1.0).max(0.0);
        }
        metres
    }

    /// Returns the paints of a joint; 1 is the first from the anchor.
    pub fn paints_of(&self, mark: usize) -> &[Paint] {
        let joint = mark
            .checked_sub(1)
            .and_then(|index| self.lengths.get(index));
        joint.map_or(&[], |length| &length.paints)
    }

    /// Returns how many joints can pass: the last length ends at the bitter end.
    pub fn joints(&self) -> usize {
        self.lengths.len().saturating_sub(1).max(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_description_goes_into_its_text_and_comes_back() {
        let text = "27.5 white\n27.2 blue\n\n27.5 White RED\n27.5";
        let cable = Cable::parse(text, " 13.5 ").unwrap();
        assert_eq!(cable.text(), "27.5 white\n27.2 blue\n27.5 white red\n27.5");
        assert_eq!(Cable::parse(&cable.text(), "13.5"), Ok(cable.clone()));
        assert_eq!(cable.joints(), 3);
        assert_eq!(cable.paints_of(3), [Paint::White, Paint::Red]);
        assert!(cable.paints_of(0).is_empty() && cable.paints_of(9).is_empty());
        assert!((cable.total_m() - 109.7).abs() < 1e-9);
        assert!((cable.metres_at(1.5) - (27.5 + 13.6)).abs() < 1e-9);
        assert!((cable.metres_at(99.0) - cable.total_m()).abs() < 1e-9);
        assert!(cable.metres_at(-1.0).abs() < 1e-9);
    }

    #[test]
    fn a_mistake_is_named_with_its_line() {
        let wrong = |text: &str, keep: &str| Cable::parse(text, keep).unwrap_err().to_string();
        assert!(wrong("27.5\nred 27.5", "1").starts_with("line 2: \"red\" is no length"));
        assert!(wrong("27.5 pink", "1").starts_with("line 1: \"pink\" is no paint"));
        assert!(wrong("61", "1").contains("from 1 to 60"));
        assert!(wrong("27.5 red red red red red", "1").contains("at most 4"));
        assert!(wrong("\n \n", "1").contains("here are 0"));
        assert!(wrong(&"27.5\n".repeat(41), "1").contains("here are 41"));
        for keep in ["", "-1", "27.5", "x"] {
            assert!(
                wrong("27.5", keep).starts_with("what stays inboard"),
                "{keep}"
            );
        }
    }

    #[test]
    fn settings_without_cables_are_written_as_they_always_were() {
        let settings = crate::Settings::defaults();
        let json = serde_json::to_string(&settings).unwrap();
        assert!(!json.contains("cables"), "an older program reads it");
        assert!(settings.cables.is_empty());
        let mut with = settings.clone();
        with.cables.set(
            Side::Starboard,
            Cable::parse("27.5 red\n27.5", "13.5").unwrap(),
        );
        let json = serde_json::to_string(&with).unwrap();
        let again: crate::Settings = serde_json::from_str(&json).unwrap();
        assert_eq!(again, with);
        assert_eq!(again.over_defaults(), with, "nor are they lost on the way");
        assert_eq!(again.cables.of(Side::Port), None);
    }
}
