//! The typed bodies that records carry, and their kinds' names.
//!
//! A body is deterministic CBOR, an array by position. The kinds and the positions are frozen: they are
//! only ever added to. A kind that this version does not know is kept and relayed as it came.

use crate::watch::WatchBody;
use minicbor::{Decode, Encode};
use procedure::Event;
use procedure::gear::ItemChange;
use record::{DeviceId, RecordId};
use serde::{Deserialize, Serialize};

/// The text that names a body's type in a record.
pub mod kind {
    /// The vessel's particulars and people, by the ship's authority.
    pub const VESSEL: &str = "vessel";
    /// A credential: a CBOR Web Token that ties a key to a person.
    pub const CREDENTIAL: &str = "credential";
    /// The withdrawal of a credential.
    pub const WITHDRAWAL: &str = "withdrawal";
    /// A procedure's text, as a run pins it or the master publishes it.
    pub const PROCEDURE: &str = "procedure";
    /// Something that happened in a run.
    pub const RUN: &str = "run";
    /// An anchoring plan.
    pub const PLAN: &str = "plan";
    /// The ship's settings.
    pub const SETTINGS: &str = "settings";
    /// A trial of a device: that its key signs and the ship answers. Counts for nothing else.
    pub const TRIAL: &str = "trial";
    /// From which of its records on a key is judged by a credential that changes its holder's roles.
    pub const ROLES_FROM: &str = "roles-from";
    /// That a master has read what was found wrong with a log.
    pub const FINDING: &str = "log-finding";
    /// What became of items of the ship's gear.
    pub const GEAR: &str = "gear";
    /// A kind of gear that the ship adds.
    pub const GEAR_KIND: &str = "gear-kind";
    /// What was said of the anchor watch.
    pub const WATCH: &str = "watch";
}

/// One person of the ship's company.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[cbor(array)]
pub struct Person {
    /// Identity in records: short, never reused.
    #[n(0)]
    pub id: String,
    /// Name as shown.
    #[n(1)]
    pub name: String,
    /// Rank as shown, for instance 'bosun'.
    #[n(2)]
    pub rank: String,
    /// Role names as a credential has them: `crew`, `officer`, `master`, ….
    #[n(3)]
    pub roles: Vec<String>,
    /// When they join, ms UTC: no credential counts before it. None: they are aboard.
    #[n(4)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub joins_ms: Option<i64>,
    /// When they leave, ms UTC: no credential counts from then on. None: not known yet.
    #[n(5)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leaves_ms: Option<i64>,
}

/// The vessel's particulars and people; the newest one counts.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[cbor(array)]
pub struct VesselBody {
    /// The vessel's name.
    #[n(0)]
    pub name: String,
    /// What she is, for instance 'motor yacht, 49 m, 680 GT'.
    #[n(1)]
    pub particulars: String,
    /// Her company.
    #[n(2)]
    pub crew: Vec<Person>,
    /// The position that day and night are reckoned for, in 1e-7 degrees north.
    #[n(3)]
    pub latitude_e7: i32,
    /// The same, in 1e-7 degrees east.
    #[n(4)]
    pub longitude_e7: i32,
    /// `true` for the house of an office ashore: people, and no vessel.
    #[n(5)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ashore: Option<bool>,
}

impl VesselBody {
    /// Returns `true` if it is an office's house and no vessel.
    pub fn is_ashore(&self) -> bool {
        self.ashore == Some(true)
    }
}

/// A procedure's text, so that a run's pinned procedure can be read for as long as its records are.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
#[cbor(array)]
pub struct ProcedureBody {
    /// File name, for messages about mistakes.
    #[n(0)]
    pub file: String,
    /// The TOML text.
    #[n(1)]
    pub text: String,
    /// `true` when the master publishes it for new runs; `false` when a run merely pins it.
    #[n(2)]
    pub published: bool,
}

/// The ship's settings, as JSON of [`procedure::Settings`]; the newest one counts.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
#[cbor(array)]
pub struct SettingsBody {
    /// JSON text.
    #[n(0)]
    pub json: String,
}

/// An anchoring plan, signed by whoever wrote it; inputs and results as JSON text.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
#[cbor(array)]
pub struct PlanBody {
    /// What the plan is for, in words.
    #[n(0)]
    pub title: String,
    /// JSON of [`seamanship::plan::PlanInput`].
    #[n(1)]
    pub input_json: String,
    /// The order for the bow, in words: 'port, 6 on deck, lower all the way with the windlass'.
    #[n(2)]
    pub order: String,
    /// Why it is signed although some of its own checks fail; none where they hold.
    #[n(3)]
    pub reason: Option<String>,
}

/// A trial of a device, to be acknowledged like any record; it changes nothing.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
#[cbor(array)]
pub struct TrialBody {
    /// What was tried, in words: 'phone check'.
    #[n(0)]
    pub what: String,
}

/// That a master has read what was found wrong with a log, and why it came about.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
#[cbor(array)]
pub struct FindingBody {
    /// The log's name.
    #[n(0)]
    pub origin: String,
    /// When the log says that it was put back from a backup, ms UTC; none where it does not say so.
    #[n(1)]
    pub restored_ms: Option<i64>,
    /// How many records the remembered head has.
    #[n(2)]
    pub remembered_size: u64,
    /// Its root.
    #[n(3)]
    pub remembered_root: minicbor::bytes::ByteVec,
    /// How many records the head has that was shown.
    #[n(4)]
    pub shown_size: u64,
    /// Its root.
    #[n(5)]
    pub shown_root: minicbor::bytes::ByteVec,
    /// What the master writes down.
    #[n(6)]
    pub reason: String,
}

/// What became of items of the ship's gear: all of it, or none.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
#[cbor(array)]
pub struct GearBody {
    /// What is said of which items, in order.
    #[n(0)]
    pub changes: Vec<ItemChange>,
    /// Why.
    #[n(1)]
    pub reason: String,
}

/// Kinds of gear that the ship adds, or says anew; of each the newest counts.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
#[cbor(array)]
pub struct GearKindBody {
    /// The TOML text.
    #[n(0)]
    pub text: String,
}

/// From which of its records on a key is judged by a credential, by the ship's authority.
///
/// A clock can be set back, the count of a chain cannot: what comes after `last_seq` was not here when the roles were
/// changed, whatever time it bears. An older program keeps and relays it, and judges by the time alone.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
#[cbor(array)]
pub struct RolesFromBody {
    /// Whose key.
    #[n(0)]
    pub device: DeviceId,
    /// The last record that is judged by the time that it bears; 0 if none was here.
    #[n(1)]
    pub last_seq: u64,
    /// The record that carries the credential.
    #[n(2)]
    pub credential: RecordId,
}

/// One typed body.
#[derive(Debug, Clone, PartialEq)]
pub enum Body {
    /// See [`kind::VESSEL`].
    Vessel(VesselBody),
    /// See [`kind::CREDENTIAL`]: the signed token's bytes.
    Credential(Vec<u8>),
    /// See [`kind::WITHDRAWAL`].
    Withdrawal(record::Withdrawal),
    /// See [`kind::PROCEDURE`].
    Procedure(ProcedureBody),
    /// See [`kind::RUN`].
    Run(Box<Event>),
    /// See [`kind::PLAN`].
    Plan(PlanBody),
    /// See [`kind::SETTINGS`].
    Settings(SettingsBody),
    /// See [`kind::TRIAL`].
    Trial(TrialBody),
    /// See [`kind::ROLES_FROM`].
    RolesFrom(RolesFromBody),
    /// See [`kind::FINDING`].
    Finding(FindingBody),
    /// See [`kind::GEAR`].
    Gear(GearBody),
    /// See [`kind::GEAR_KIND`].
    GearKind(GearKindBody),
    /// See [`kind::WATCH`].
    Watch(WatchBody),
}

/// Why a body could not be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BodyError {
    /// The kind is not one that this version knows: kept and relayed, not shown.
    #[error("kind {0:?} is not known to this version")]
    UnknownKind(String),
    /// The bytes are not what the kind says.
    #[error("a body of kind {kind:?} cannot be read: {why}")]
    Malformed {
        /// The kind.
        kind: String,
        /// The decoder's words.
        why: String,
    },
}

impl Body {
    /// Returns the text that names this body's type in a record.
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Vessel(_) => kind::VESSEL,
            Self::Credential(_) => kind::CREDENTIAL,
            Self::Withdrawal(_) => kind::WITHDRAWAL,
            Self::Procedure(_) => kind::PROCEDURE,
            Self::Run(_) => kind::RUN,
            Self::Plan(_) => kind::PLAN,
            Self::Settings(_) => kind::SETTINGS,
            Self::Trial(_) => kind::TRIAL,
            Self::RolesFrom(_) => kind::ROLES_FROM,
            Self::Finding(_) => kind::FINDING,
            Self::Gear(_) => kind::GEAR,
            Self::GearKind(_) => kind::GEAR_KIND,
            Self::Watch(_) => kind::WATCH,
        }
    }

    /// Encodes the body as deterministic CBOR.
    ///
    /// # Errors
    /// [`record::Refusal`] if a withdrawal's reason is too long.
    pub fn encode(&self) -> Result<Vec<u8>, record::Refusal> {
        fn cbor<T: Encode<()>>(value: &T) -> Vec<u8> {
            minicbor::to_vec(value).expect("invariant: writing to a Vec cannot fail")
        }
        Ok(match self {
            Self::Vessel(body) => cbor(body),
            Self::Credential(token) => token.clone(),
            Self::Withdrawal(body) => body.encode()?,
            Self::Procedure(body) => cbor(body),
            Self::Run(event) => cbor(event.as_ref()),
            Self::Plan(body) => cbor(body),
            Self::Settings(body) => cbor(body),
            Self::Trial(body) => cbor(body),
            Self::RolesFrom(body) => cbor(body),
            Self::Finding(body) => cbor(body),
            Self::Gear(body) => cbor(body),
            Self::GearKind(body) => cbor(body),
            Self::Watch(body) => cbor(body),
        })
    }

    /// Reads the body of a record of `kind`.
    ///
    /// # Errors
    /// [`BodyError::UnknownKind`] for a kind of a later version, [`BodyError::Malformed`] for bytes that
    /// are not what the kind says.
    pub fn decode(kind: &str, bytes: &[u8]) -> Result<Self, BodyError> {
        fn cbor<'b, T: Decode<'b, ()>>(kind: &str, bytes: &'b [u8]) -> Result<T, BodyError> {
            minicbor::decode(bytes).map_err(|error| BodyError::Malformed {
                kind: kind.to_owned(),
                why: error.to_string(),
            })
        }
        Ok(match kind {
            kind::VESSEL => Self::Vessel(cbor(kind, bytes)?),
            kind::CREDENTIAL => Self::Credential(bytes.to_vec()),
            kind::WITHDRAWAL => {
                Self::Withdrawal(record::Withdrawal::decode(bytes).map_err(|refusal| {
                    BodyError::Malformed {
                        kind: kind.to_owned(),
                        why: refusal.to_string(),
                    }
                })?)
            }
            kind::PROCEDURE => Self::Procedure(cbor(kind, bytes)?),
            kind::RUN => Self::Run(Box::new(cbor(kind, bytes)?)),
            kind::PLAN => Self::Plan(cbor(kind, bytes)?),
            kind::SETTINGS => Self::Settings(cbor(kind, bytes)?),
            kind::TRIAL => Self::Trial(cbor(kind, bytes)?),
            kind::ROLES_FROM => Self::RolesFrom(cbor(kind, bytes)?),
            kind::FINDING => Self::Finding(cbor(kind, bytes)?),
            kind::GEAR => Self::Gear(cbor(kind, bytes)?),
            kind::GEAR_KIND => Self::GearKind(cbor(kind, bytes)?),
            kind::WATCH => Self::Watch(cbor(kind, bytes)?),
            other => return Err(BodyError::UnknownKind(other.to_owned())),
        })
    }
}

/// Reads role names as a credential and the crew list have them; a name of a later version means nothing.
pub fn roles_from_words<T: AsRef<str>>(words: &[T]) -> procedure::Roles {
    use procedure::Role;
    words
        .iter()
        .fold(procedure::Roles::NONE, |roles, word| match word.as_ref() {
            "crew" => roles.with(Role::Crew),
            "officer" => roles.with(Role::Officer),
            "master" => roles.with(Role::Master),
            "office-reader" => roles.with(Role::OfficeReader),
            "office-administrator" => roles.with(Role::OfficeAdministrator),
            _ => roles,
        })
}
