//! What a master asks for on the crew's page: JSON on the wire.

use super::{CrewError, MOST_BYTES, text, words_of};
use crate::body::{Person, roles_from_words};
use procedure::Roles;
use record::DeviceId;
use serde::{Deserialize, Serialize};

/// What a master asks to be changed of one person, or whom they take on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PersonDraft {
    /// Whose entry is changed; none for somebody new.
    #[serde(default)]
    pub id: Option<String>,
    /// Name as shown.
    pub name: String,
    /// Rank as shown.
    pub rank: String,
    /// Role names as a credential has them.
    pub roles: Vec<String>,
    /// When they join, ms UTC.
    #[serde(default)]
    pub joins_ms: Option<i64>,
    /// When they leave, ms UTC.
    #[serde(default)]
    pub leaves_ms: Option<i64>,
}

/// Whom a one-time code is asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CodeQuestion {
    /// Their identity in records.
    pub person: String,
}

/// Which key a master withdraws.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WithdrawQuestion {
    /// The key.
    pub device: DeviceId,
    /// Why.
    pub reason: String,
    /// From when, ms UTC; from now if not given.
    #[serde(default)]
    pub from_ms: Option<i64>,
    /// The last record that the master vouches for, of those that came in after that time and say that they are
    /// older; none of them if not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_seq: Option<u64>,
}

/// What a master asks before a key is withdrawn from a past time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DoubtQuestion {
    /// The key.
    pub device: DeviceId,
    /// From when it is to be withdrawn, ms UTC; from now if not given.
    #[serde(default)]
    pub from_ms: Option<i64>,
}

/// What would be in doubt of a key that is withdrawn.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Doubt {
    /// From when, ms UTC.
    pub from_ms: i64,
    /// The last of its records that was here by then.
    pub certain_seq: u64,
    /// Those that came in after that time and say that they are older, oldest first.
    pub records: Vec<DoubtRow>,
}

/// A record in doubt.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DoubtRow {
    /// Its number in the chain.
    pub seq: u64,
    /// When it was made by the device's clock, ms UTC.
    pub time_ms: i64,
    /// When the server received it, ms UTC.
    pub received_ms: Option<i64>,
    /// What it says.
    pub says: String,
}

/// A key that was withdrawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct WithdrawAnswer {
    /// From when, ms UTC.
    pub from_ms: i64,
    /// The last of its records that stays good.
    pub last_seq: u64,
}

/// The ship's particulars as a master wants them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShipDraft {
    /// Her name.
    pub name: String,
    /// What she is, for instance 'motor yacht, 49 m'.
    pub particulars: String,
    /// Degrees north, -90 to 90.
    pub latitude: f64,
    /// Degrees east, -180 to 180.
    pub longitude: f64,
}

impl PersonDraft {
    /// Returns the entry, checked.
    pub(super) fn check(&self) -> Result<Person, CrewError> {
        if let Some(unknown) = self
            .roles
            .iter()
            .find(|role| roles_from_words(std::slice::from_ref(*role)) == Roles::NONE)
        {
            return Err(CrewError::NoRole(unknown.clone()));
        }
        let roles = roles_from_words(&self.roles);
        if roles == Roles::NONE {
            return Err(CrewError::Roleless);
        }
        if let (Some(joins), Some(leaves)) = (self.joins_ms, self.leaves_ms)
            && leaves <= joins
        {
            return Err(CrewError::LeavesFirst);
        }
        Ok(Person {
            id: self.id.clone().unwrap_or_default(),
            name: text("name", &self.name, MOST_BYTES)?,
            rank: text("rank", &self.rank, MOST_BYTES)?,
            roles: words_of(roles),
            joins_ms: self.joins_ms,
            leaves_ms: self.leaves_ms,
        })
    }
}
