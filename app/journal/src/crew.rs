//! Who is aboard, on which devices: what the crew's page shows, and the changes that a master makes there.

mod asked;
mod withdrawal;

pub use asked::{
    CodeQuestion, Doubt, DoubtQuestion, DoubtRow, PersonDraft, ShipDraft, WithdrawAnswer,
    WithdrawQuestion,
};
pub use withdrawal::{doubt, wanted_for_doubt, withdrawal};

use crate::board::Heard;
use crate::body::{Person, VesselBody, roles_from_words};
use crate::ledger::{Chain, Holder, Ledger};
use procedure::{Role, Roles};
use record::{DeviceId, PersonId};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The longest name, rank or particulars, in bytes: a credential holds no more.
const MOST_BYTES: usize = 128;
/// The longest identity of a person, in bytes.
const MOST_ID_BYTES: usize = 32;
/// The longest reason, in bytes.
const MOST_REASON_BYTES: usize = 1024;

/// A key that speaks, or spoke, for a person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeyRow {
    /// The key's name.
    pub device: DeviceId,
    /// When the ship vouched for it first, ms UTC.
    pub enrolled_ms: i64,
    /// Until when it is good, ms UTC.
    pub expires_ms: i64,
    /// How it is kept: `webcrypto` or `software`.
    pub protection: String,
    /// How many records of it are here.
    pub records: u64,
    /// When it signed last, by its own clock, ms UTC.
    pub signed_ms: Option<i64>,
    /// When the server heard of it last, ms UTC.
    pub heard_ms: Option<i64>,
    /// How far ahead its clock was then, ms.
    pub offset_ms: Option<i64>,
    /// Why and from when it no longer counts.
    pub withdrawn: Option<Gone>,
    /// The number that it used twice, if it did: two devices have this key, or one was set back.
    pub forked_at: Option<u64>,
}

/// A withdrawal as people read it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Gone {
    /// From when, ms UTC.
    pub from_ms: i64,
    /// The last record that counts.
    pub last_seq: u64,
    /// Why.
    pub reason: String,
}

/// One person with their keys.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CrewRow {
    /// The person.
    pub person: Person,
    /// Their keys, the newest first.
    pub keys: Vec<KeyRow>,
}

/// The crew's page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct CrewPage {
    /// The vessel's particulars; none while she has no name yet.
    pub vessel: Option<VesselBody>,
    /// Her people.
    pub people: Vec<CrewRow>,
    /// Keys of people whom the list no longer has.
    pub strangers: Vec<CrewRow>,
}

impl CrewPage {
    /// Returns the page without what changes with every record and every word from a device: what is left
    /// changes only when somebody changes the crew.
    #[must_use]
    pub fn without_news(mut self) -> Self {
        let rows = self.people.iter_mut().chain(&mut self.strangers);
        for key in rows.flat_map(|row| &mut row.keys) {
            key.records = 0;
            key.signed_ms = None;
            key.heard_ms = None;
            key.offset_ms = None;
        }
        self
    }

    /// Returns every key by its name.
    pub fn keys(self) -> BTreeMap<DeviceId, KeyRow> {
        let rows = self.people.into_iter().chain(self.strangers);
        rows.flat_map(|row| row.keys)
            .map(|key| (key.device, key))
            .collect()
    }
}

/// Why a change of the crew is not made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CrewError {
    /// A text is missing.
    #[error("the {0} is missing")]
    Missing(&'static str),
    /// A text is too long.
    #[error("the {what} has {bytes} bytes; at most {most} are kept")]
    TooLong {
        /// Which text.
        what: &'static str,
        /// Its length.
        bytes: usize,
        /// The most.
        most: usize,
    },
    /// A role is none.
    #[error(
        "{0:?} is no role; there are crew, officer, master, office-reader, office-administrator"
    )]
    NoRole(String),
    /// Somebody without any role.
    #[error("choose at least one role")]
    Roleless,
    /// They leave before they join.
    #[error("the day of leaving is not after the day of joining")]
    LeavesFirst,
    /// Somebody aboard has that name already.
    #[error(
        "there is a {0} on the crew list already: write the two so that nobody takes one for the other, for instance with \
         a second name"
    )]
    SameName(String),
    /// Nobody has that identity.
    #[error("nobody on the crew list is called {0:?}")]
    Nobody(String),
    /// The change would leave nobody who may make another.
    #[error("somebody must stay who may enrol people: give the role to another first")]
    LastMaster,
    /// No key has that name.
    #[error("no device {0} is enrolled here")]
    NoDevice(DeviceId),
    /// The key is withdrawn already.
    #[error("device {0} is withdrawn already")]
    Withdrawn(DeviceId),
    /// More is vouched for than is in doubt.
    #[error(
        "record {asked} cannot be kept: of this device those up to {most} are from before that time by its own clock"
    )]
    NotBefore {
        /// The last one that was to stay good.
        asked: u64,
        /// The last one that can.
        most: u64,
    },
    /// It would be withdrawn from a time that is still to come.
    #[error(
        "a device is withdrawn from now on or from a time that has passed: the one given is {} ahead",
        withdrawal::ahead(*.0)
    )]
    InFuture(i64),
}

fn text(what: &'static str, text: &str, most: usize) -> Result<String, CrewError> {
    let text = text.trim();
    if text.is_empty() {
        return Err(CrewError::Missing(what));
    }
    if text.len() > most {
        let bytes = text.len();
        return Err(CrewError::TooLong { what, bytes, most });
    }
    Ok(text.to_owned())
}

fn word(role: Role) -> &'static str {
    match role {
        Role::Crew => "crew",
        Role::Officer => "officer",
        Role::Master => "master",
        Role::OfficeReader => "office-reader",
        Role::OfficeAdministrator => "office-administrator",
    }
}

/// Returns the roles' names in the order that a credential has them in.
pub fn words_of(roles: Roles) -> Vec<String> {
    let mut words: Vec<String> = roles
        .list()
        .into_iter()
        .map(|r| word(r).to_owned())
        .collect();
    words.sort_unstable();
    words
}

/// Makes an identity for somebody new: the last part of the name in plain letters, with a number where
/// somebody, aboard now or before, has it already.
fn new_id(name: &str, taken: &dyn Fn(&str) -> bool) -> String {
    let last = name.split_whitespace().next_back().unwrap_or_default();
    let plain: String = last
        .chars()
        .flat_map(char::to_lowercase)
        .filter(char::is_ascii_alphanumeric)
        .take(MOST_ID_BYTES / 2)
        .collect();
    let plain = if plain.is_empty() {
        "person".to_owned()
    } else {
        plain
    };
    if !taken(&plain) && plain != "ship" {
        return plain;
    }
    (2_u32..10_000)
        .map(|number| format!("{plain}{number}"))
        .find(|id| !taken(id))
        .unwrap_or(plain)
}

/// Says whether two names are read as the same, whatever their capitals and blanks.
fn is_same_name(one: &str, other: &str) -> bool {
    let plain = |name: &str| {
        let words: Vec<String> = name.split_whitespace().map(str::to_lowercase).collect();
        words.join(" ")
    };
    plain(one) == plain(other)
}

fn may_muster(person: &Person) -> bool {
    crate::access::has_permission(
        roles_from_words(&person.roles),
        crate::access::Permission::Muster,
    )
}

/// Returns the vessel's particulars with one person more, or one changed, and who that is.
///
/// # Errors
/// [`CrewError`] if the entry is not in order, or nobody would be left who may make another.
pub fn with_person(
    ledger: &Ledger,
    body: &VesselBody,
    draft: &PersonDraft,
) -> Result<(VesselBody, Person), CrewError> {
    let mut person = draft.check()?;
    let mut body = body.clone();
    // Whoever bears it already, from before this was asked, keeps it.
    let own_name = |member: &Person| {
        Some(member.id.as_str()) == draft.id.as_deref() && is_same_name(&member.name, &person.name)
    };
    if !body.crew.iter().any(own_name) {
        let other = |member: &&Person| {
            Some(member.id.as_str()) != draft.id.as_deref()
                && is_same_name(&member.name, &person.name)
        };
        if let Some(other) = body.crew.iter().find(other) {
            return Err(CrewError::SameName(other.name.clone()));
        }
    }
    if let Some(id) = draft.id.as_deref() {
        let slot = body.crew.iter_mut().find(|member| member.id == id);
        *slot.ok_or_else(|| CrewError::Nobody(id.to_owned()))? = person.clone();
    } else {
        let spoken = |id: &str| {
            let of = |holder: &Holder| holder.credential.person.as_str() == id;
            body.crew.iter().any(|member| member.id == id) || ledger.holders().values().any(of)
        };
        person.id = new_id(&person.name, &spoken);
        body.crew.push(person.clone());
    }
    if !body.crew.iter().any(may_muster) {
        return Err(CrewError::LastMaster);
    }
    Ok((body, person))
}

/// Returns the particulars of a vessel, or an office, that has none yet, with the person who begins.
///
/// # Errors
/// [`CrewError`] if a text is missing or too long.
pub fn first_body(
    name: &str,
    particulars: &str,
    person: (&str, &str),
    is_ashore: bool,
) -> Result<VesselBody, CrewError> {
    let roles: &[Role] = if is_ashore {
        &[Role::OfficeReader, Role::OfficeAdministrator]
    } else {
        &[Role::Crew, Role::Officer, Role::Master]
    };
    let draft = PersonDraft {
        id: None,
        name: person.0.to_owned(),
        rank: person.1.to_owned(),
        roles: words_of(Roles::of(roles)),
        joins_ms: None,
        leaves_ms: None,
    };
    let mut first = draft.check()?;
    first.id = new_id(&first.name, &|_| false);
    Ok(VesselBody {
        name: text("name of the vessel", name, MOST_BYTES)?,
        particulars: particulars.trim().chars().take(MOST_BYTES).collect(),
        crew: vec![first],
        latitude_e7: 0,
        longitude_e7: 0,
        ashore: is_ashore.then_some(true),
    })
}

fn key_row(ledger: &Ledger, heard: &BTreeMap<DeviceId, Heard>, holder: &Holder) -> KeyRow {
    let device = holder.key.device();
    let chain = ledger.chains().get(&device);
    let last = chain
        .and_then(Chain::last)
        .and_then(|(_, id)| ledger.made_ms(id));
    let enrolled = ledger.entry(holder.record);
    let news = heard.get(&device);
    let mut forks = ledger.forks().range((device, 0)..=(device, u64::MAX));
    KeyRow {
        device,
        enrolled_ms: enrolled.map_or(0, |entry| entry.record.time_ms()),
        expires_ms: holder.credential.expires_s.saturating_mul(1000),
        protection: holder.credential.protection.as_str().to_owned(),
        records: chain.map_or(0, Chain::count),
        signed_ms: last,
        heard_ms: news.map(|news| news.at_ms),
        offset_ms: news.map(|news| news.offset_ms),
        withdrawn: ledger.withdrawal(device).map(|withdrawal| Gone {
            from_ms: withdrawal.from_ms,
            last_seq: withdrawal.last_seq,
            reason: withdrawal.reason.clone(),
        }),
        forked_at: forks.next().map(|(_, seq)| *seq),
    }
}

/// Makes the crew's page.
pub fn page(ledger: &Ledger, heard: &BTreeMap<DeviceId, Heard>) -> CrewPage {
    let mut keys: BTreeMap<&PersonId, Vec<KeyRow>> = BTreeMap::new();
    for holder in ledger.holders().values() {
        let row = key_row(ledger, heard, holder);
        keys.entry(&holder.credential.person).or_default().push(row);
    }
    for rows in keys.values_mut() {
        rows.sort_by_key(|row| (std::cmp::Reverse(row.enrolled_ms), row.device));
    }
    let vessel = ledger.particulars();
    let people = vessel.into_iter().flat_map(|body| &body.crew);
    let people: Vec<CrewRow> = people
        .map(|person| CrewRow {
            person: person.clone(),
            keys: keys
                .remove(&PersonId::from(person.id.as_str()))
                .unwrap_or_default(),
        })
        .collect();
    let strangers = keys.into_iter().filter_map(|(id, keys)| {
        let holder = ledger.holders().get(&keys.first()?.device)?;
        let person = Person {
            id: id.to_string(),
            name: holder.credential.name.clone(),
            rank: holder.credential.rank.clone(),
            roles: holder.credential.roles.clone(),
            joins_ms: None,
            leaves_ms: None,
        };
        Some(CrewRow { person, keys })
    });
    CrewPage {
        vessel: vessel.cloned(),
        strangers: strangers.collect(),
        people,
    }
}

#[cfg(test)]
mod tests;
