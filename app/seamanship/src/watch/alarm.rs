//! What the watch says: which alarm, how grave, in words with figures.

use serde::{Deserialize, Serialize};

/// What an alarm is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// The hawse is farther from the anchor than the cable reaches.
    Outside,
    /// The centre that she swings about moves.
    AnchorMoves,
    /// Her head does not come back to the wind, and she drifts.
    NotRecovering,
    /// Too little water, or it shoals.
    Shoal,
    /// The master's limits of wind.
    Wind,
    /// Another ship closes.
    Neighbour,
    /// Something that the watch needs is not there or cannot be right.
    Blind,
}

impl Kind {
    /// Every kind.
    pub const ALL: [Self; 7] = [
        Self::Outside,
        Self::AnchorMoves,
        Self::NotRecovering,
        Self::Shoal,
        Self::Wind,
        Self::Neighbour,
        Self::Blind,
    ];
}

/// How grave it is.
///
/// # Source
/// MSC.302(87), from memory: a caution is to be known of, a warning is to be looked at before it grows, an alarm is to be
/// acted upon at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// It is over.
    Clear,
    /// To be known of.
    Caution,
    /// To be looked at.
    Warning,
    /// To be acted upon at once.
    Alarm,
}

/// What the watch says at one moment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Call {
    /// When, in milliseconds.
    pub ms: i64,
    /// What about.
    pub alarm: Kind,
    /// How grave.
    pub level: Level,
    /// In words.
    pub text: String,
}

/// How things stand with one kind of alarm.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Standing {
    /// How grave.
    pub level: Level,
    /// What it is raised by: another cause of the same gravity is said anew.
    pub cause: u16,
    /// In words, with the figures of when it was raised.
    pub text: String,
}

impl Standing {
    /// Makes a standing with one cause.
    pub fn new(level: Level, text: String) -> Self {
        Self {
            level,
            cause: 0,
            text,
        }
    }
}

/// How things stand with every kind.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Alarms {
    standing: [Option<Standing>; 7],
}

impl Alarms {
    /// How things stand with a kind; none where it is quiet.
    pub fn of(&self, kind: Kind) -> Option<&Standing> {
        self.standing[kind as usize].as_ref()
    }

    /// The gravest that stands.
    pub fn gravest(&self) -> Option<Level> {
        self.standing
            .iter()
            .flatten()
            .map(|standing| standing.level)
            .max()
    }

    /// Sets how things stand, and calls where that is another level or cause.
    pub(super) fn set(
        &mut self,
        ms: i64,
        kind: Kind,
        standing: Option<Standing>,
        calls: &mut Vec<Call>,
    ) {
        let place = &mut self.standing[kind as usize];
        let of = |standing: &Option<Standing>| standing.as_ref().map(|at| (at.level, at.cause));
        if of(place) != of(&standing) {
            calls.push(match &standing {
                Some(standing) => Call {
                    ms,
                    alarm: kind,
                    level: standing.level,
                    text: standing.text.clone(),
                },
                None => Call {
                    ms,
                    alarm: kind,
                    level: Level::Clear,
                    text: clear_text(kind).to_owned(),
                },
            });
            *place = standing;
        }
    }
}

fn clear_text(kind: Kind) -> &'static str {
    match kind {
        Kind::Outside => "inside the allowed reach again",
        Kind::AnchorMoves => "the centre of her swing stays where it is",
        Kind::NotRecovering => "her head is back to the wind, or she has stopped drifting",
        Kind::Shoal => "enough water again",
        Kind::Wind => "the wind is below the limits again",
        Kind::Neighbour => "no other ship closes any more",
        Kind::Blind => "everything that was lost is there again",
    }
}
