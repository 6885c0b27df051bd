//! Names of steps, people and procedures, and the roles that people hold.

use std::fmt;

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

/// The name of a step within its procedure, such as `air-at-bottom`.
#[derive(
    Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(transparent)]
#[serde(transparent)]
pub struct StepId(#[n(0)] String);

impl StepId {
    /// Makes a step's name from text.
    pub fn new(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// Returns the name as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for StepId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl From<&str> for StepId {
    fn from(text: &str) -> Self {
        Self(text.to_owned())
    }
}

/// The identity of a person in the ship's crew list.
#[derive(
    Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(transparent)]
#[serde(transparent)]
pub struct PersonId(#[n(0)] String);

impl PersonId {
    /// Makes a person's identity from text.
    pub fn new(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// Returns the identity as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Returns whether two identities name one person: visitors are written down by name, and a name written with
    /// other capitals or spaces is the same one.
    pub fn is_same(&self, other: &Self) -> bool {
        self.0 == other.0 || self.folded() == other.folded()
    }

    /// Returns whether there is nothing but spaces.
    pub fn is_nobody(&self) -> bool {
        self.0.trim().is_empty()
    }

    fn folded(&self) -> String {
        let words: Vec<String> = self.0.split_whitespace().map(str::to_lowercase).collect();
        words.join(" ")
    }
}

impl fmt::Display for PersonId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl From<&str> for PersonId {
    fn from(text: &str) -> Self {
        Self(text.to_owned())
    }
}

/// The identity of a procedure: SHA-256 of its canonical form.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Encode, Decode)]
#[cbor(transparent)]
pub struct ProcedureHash(#[cbor(n(0), with = "minicbor::bytes")] pub [u8; 32]);

impl ProcedureHash {
    /// Reads the 64 hexadecimal digits that [`fmt::Display`] writes.
    pub fn from_hex(text: &str) -> Option<Self> {
        from_hex(text).map(Self)
    }
}

impl fmt::Display for ProcedureHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex(&self.0))
    }
}

impl fmt::Debug for ProcedureHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "ProcedureHash({self})")
    }
}

impl Serialize for ProcedureHash {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for ProcedureHash {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        Self::from_hex(&text).ok_or_else(|| serde::de::Error::custom("not 64 hexadecimal digits"))
    }
}

/// Writes bytes as hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    let digit = |d: u8| char::from_digit(u32::from(d), 16).unwrap_or('0');
    bytes
        .iter()
        .flat_map(|b| [digit(b >> 4), digit(b & 15)])
        .collect()
}

fn from_hex(text: &str) -> Option<[u8; 32]> {
    let text = text.as_bytes();
    if text.len() != 64 {
        return None;
    }
    let mut bytes = [0; 32];
    for (byte, pair) in bytes.iter_mut().zip(text.chunks_exact(2)) {
        let high = char::from(pair[0]).to_digit(16)?;
        let low = char::from(pair[1]).to_digit(16)?;
        *byte = u8::try_from(high * 16 + low).ok()?;
    }
    Some(bytes)
}

/// Serde for an event's identity as hexadecimal text.
pub(crate) mod hex_id {
    use serde::{Deserialize, Deserializer, Serializer};

    pub fn serialize<S: Serializer>(id: &[u8; 32], to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&super::hex(id))
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<[u8; 32], D::Error> {
        let text = String::deserialize(from)?;
        super::from_hex(&text).ok_or_else(|| serde::de::Error::custom("not 64 hexadecimal digits"))
    }
}

/// Serde for an event's identity that may be absent.
pub(crate) mod hex_id_option {
    use serde::{Deserialize, Deserializer, Serializer};

    #[expect(
        clippy::ref_option,
        reason = "serde's `with` passes the field by reference"
    )]
    pub fn serialize<S: Serializer>(id: &Option<[u8; 32]>, to: S) -> Result<S::Ok, S::Error> {
        match id {
            Some(id) => to.serialize_some(&super::hex(id)),
            None => to.serialize_none(),
        }
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<[u8; 32]>, D::Error> {
        let Some(text) = Option::<String>::deserialize(from)? else {
            return Ok(None);
        };
        let id = super::from_hex(&text);
        id.map(Some)
            .ok_or_else(|| serde::de::Error::custom("not 64 hexadecimal digits"))
    }
}

/// What a person may do aboard, or ashore.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Deck crew and bosun: works the steps.
    #[n(0)]
    Crew,
    /// Officer of the watch, or the officer in charge forward.
    #[n(1)]
    Officer,
    /// The master.
    #[n(2)]
    Master,
    /// Reads ashore.
    #[n(3)]
    OfficeReader,
    /// Administers ashore.
    #[n(4)]
    OfficeAdministrator,
}

impl Role {
    /// Every role, in order.
    pub const ALL: [Self; 5] = [
        Self::Crew,
        Self::Officer,
        Self::Master,
        Self::OfficeReader,
        Self::OfficeAdministrator,
    ];

    /// Returns the role in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Crew => "crew",
            Self::Officer => "officer",
            Self::Master => "master",
            Self::OfficeReader => "office reader",
            Self::OfficeAdministrator => "office administrator",
        }
    }
}

/// The set of roles that a person holds.
#[derive(
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    Default,
    Encode,
    Decode,
    Serialize,
    Deserialize,
)]
#[cbor(transparent)]
#[serde(transparent)]
pub struct Roles(#[n(0)] u8);

impl Roles {
    /// No role at all.
    pub const NONE: Self = Self(0);

    /// Makes a set of roles.
    pub fn of(roles: &[Role]) -> Self {
        roles.iter().fold(Self::NONE, |set, role| set.with(*role))
    }

    /// Returns the set with one role more.
    #[must_use]
    pub const fn with(self, role: Role) -> Self {
        Self(self.0 | (1 << role as u8))
    }

    /// Returns the roles that both sets hold.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// Returns whether the set holds exactly this role.
    pub const fn has(self, role: Role) -> bool {
        self.0 & (1 << role as u8) != 0
    }

    /// Returns whether someone with these roles may do what `role` may do: a master may do an officer's
    /// part, an officer a hand's; nobody ashore may do any of it.
    pub const fn may_act_as(self, role: Role) -> bool {
        match role {
            Role::Crew => self.has(Role::Crew) || self.may_act_as(Role::Officer),
            Role::Officer => self.has(Role::Officer) || self.has(Role::Master),
            Role::Master | Role::OfficeAdministrator => self.has(role),
            Role::OfficeReader => self.has(role) || self.has(Role::OfficeAdministrator),
        }
    }

    /// Lists the roles in the set.
    pub fn list(self) -> Vec<Role> {
        Role::ALL
            .into_iter()
            .filter(|role| self.has(*role))
            .collect()
    }

    /// Returns the set as one byte, one bit for each role.
    pub const fn bits(self) -> u8 {
        self.0
    }

    /// Makes a set from one byte; bits that mean no role are kept and mean nothing.
    pub const fn from_bits(bits: u8) -> Self {
        Self(bits)
    }
}

impl fmt::Debug for Roles {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_set().entries(self.list()).finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_master_may_act_as_officer_and_crew_but_the_office_as_neither() {
        let master = Roles::of(&[Role::Master]);
        assert!(master.may_act_as(Role::Officer) && master.may_act_as(Role::Crew));
        assert!(!Roles::of(&[Role::Crew]).may_act_as(Role::Officer));
        assert!(!Roles::of(&[Role::OfficeAdministrator]).may_act_as(Role::Crew));
        assert!(Roles::of(&[Role::OfficeAdministrator]).may_act_as(Role::OfficeReader));
    }

    #[test]
    fn a_hash_is_read_back_from_its_digits() {
        let hash = ProcedureHash([0xa5; 32]);
        assert_eq!(ProcedureHash::from_hex(&hash.to_string()), Some(hash));
        assert_eq!(ProcedureHash::from_hex("a5"), None);
        assert_eq!(ProcedureHash::from_hex(&"zz".repeat(32)), None);
    }
}
