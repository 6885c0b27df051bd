//! What is known of a ship's roll: its head, what was found wrong with it, and which master has read that.

use crate::body::{Body, FindingBody};
use crate::ledger::Ledger;
use record::merkle::{Hash, as_hex};
use record::witness::Verdict;
use record::{Checkpoint, Restore, VesselId};
use serde::{Deserialize, Serialize};

/// A head of a log, as a page shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Head {
    /// How many records.
    pub size: u64,
    /// The root over them.
    #[serde(with = "as_hex")]
    pub root: Hash,
    /// When it was signed, ms UTC by the signing server's clock.
    pub signed_ms: Option<i64>,
}

impl From<&Checkpoint> for Head {
    fn from(checkpoint: &Checkpoint) -> Self {
        Self {
            size: checkpoint.head.size,
            root: checkpoint.head.root,
            signed_ms: checkpoint.signed_ms,
        }
    }
}

impl Head {
    /// Returns the root in groups of four digits, as it is read aloud over the radio and compared.
    pub fn groups(&self) -> Vec<String> {
        let digits = record::hex::encode(&self.root);
        let pairs = digits.as_bytes().chunks(4);
        pairs
            .map(|group| String::from_utf8_lossy(group).into_owned())
            .collect()
    }
}

/// Who found something wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Finder {
    /// This device, or another one that told the server.
    Device,
    /// The ship's server, of its own log.
    Ship,
    /// The office, of the ship's roll.
    Office,
}

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Found {
    /// The store was put back from a backup, and says so.
    Restored(Restore),
    /// Two heads that cannot both be true, and nothing that explains it.
    Rewritten,
}

/// Something wrong with a log, with the two heads that show it. Stands until a master has read it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Trouble {
    /// The log's name.
    pub origin: String,
    /// Who found it.
    pub finder: Finder,
    /// What was found.
    pub found: Found,
    /// The head that was remembered.
    pub remembered: Head,
    /// The head that was shown.
    pub shown: Head,
    /// When it was found, ms UTC by the finder's clock.
    pub found_ms: i64,
}

/// That a master has read it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Read {
    /// Who.
    pub by: String,
    /// When, ms UTC by their device's clock.
    pub at_ms: i64,
    /// What they wrote down.
    pub reason: String,
}

/// A trouble, and who has read it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TroubleCard {
    /// What is wrong.
    pub trouble: Trouble,
    /// Who has read it; none while it stands.
    pub read: Option<Read>,
}

impl Trouble {
    /// Says whether the two are one finding: the same restore, or the same two roots.
    pub fn is_same(&self, other: &Self) -> bool {
        if self.origin != other.origin {
            return false;
        }
        match (self.found, other.found) {
            (Found::Restored(a), Found::Restored(b)) => a == b,
            (Found::Rewritten, Found::Rewritten) => self.remembered.root == other.remembered.root,
            _ => false,
        }
    }

    /// Returns the body by which a master puts on record that this was read, and why it came about.
    pub fn body(&self, reason: &str) -> FindingBody {
        FindingBody {
            origin: self.origin.clone(),
            restored_ms: match self.found {
                Found::Restored(restore) => Some(restore.at_ms),
                Found::Rewritten => None,
            },
            remembered_size: self.remembered.size,
            remembered_root: self.remembered.root.to_vec().into(),
            shown_size: self.shown.size,
            shown_root: self.shown.root.to_vec().into(),
            reason: reason.to_owned(),
        }
    }

    /// Returns which master has read this; the first of several.
    pub fn read_in(&self, ledger: &Ledger) -> Option<Read> {
        let is_this = |body: &FindingBody| {
            body.origin == self.origin
                && match self.found {
                    Found::Restored(restore) => body.restored_ms == Some(restore.at_ms),
                    Found::Rewritten => {
                        body.restored_ms.is_none()
                            && body.remembered_root[..] == self.remembered.root[..]
                    }
                }
        };
        let mut read: Vec<_> = ledger
            .entries()
            .filter_map(|entry| match &entry.body {
                Ok(Body::Finding(body)) if is_this(body) => Some((&entry.record, body)),
                _ => None,
            })
            // The server whose log this is must not read it away: its own key does not count.
            .filter(|(record, _)| record.device() != ledger.authority().device())
            .filter(|(record, _)| ledger.is_masters(record.id()))
            .collect();
        read.sort_by_key(|(record, _)| (record.hlc(), record.id()));
        let (record, body) = read.first()?;
        Some(Read {
            by: ledger.name_of(record.author().as_str()).to_owned(),
            at_ms: record.time_ms(),
            reason: body.reason.clone(),
        })
    }
}

/// Returns what a verdict on a head means for people; none if the log is what it was.
pub fn trouble_of(
    verdict: &Verdict,
    remembered: Option<&Checkpoint>,
    shown: &Checkpoint,
    finder: Finder,
    now_ms: i64,
) -> Option<Trouble> {
    let newest = remembered.map(Head::from);
    let (found, remembered) = match verdict {
        Verdict::First | Verdict::Extends => return None,
        Verdict::Restored { restore, .. } => (Found::Restored(*restore), newest?),
        Verdict::Contradicts(heads) => {
            let head = Head {
                size: heads.remembered.size,
                root: heads.remembered.root,
                signed_ms: None,
            };
            let same = newest.filter(|newest| newest.root == head.root);
            (Found::Rewritten, same.unwrap_or(head))
        }
    };
    Some(Trouble {
        origin: shown.origin.clone(),
        finder,
        found,
        remembered,
        shown: Head::from(shown),
        found_ms: now_ms,
    })
}

/// What a server says of a vessel's log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LogCard {
    /// The vessel.
    pub vessel: VesselId,
    /// Her name.
    pub name: String,
    /// The log's name.
    pub origin: String,
    /// The head.
    pub head: Head,
    /// The signed head as text, for a QR picture or to keep.
    pub note: String,
    /// What the log lost to restores, oldest first.
    pub restores: Vec<Restore>,
    /// What the server found wrong with its own store when it was opened, in words.
    pub damage: Vec<String>,
    /// What stands, and what was read.
    pub troubles: Vec<TroubleCard>,
    /// The head of the ship's own log as it was last seen here, and when; none on the ship herself.
    pub ship: Option<(Head, i64)>,
    /// When this was made, ms UTC by the server's clock.
    pub now_ms: i64,
}

impl LogCard {
    /// Returns what no master has read yet.
    pub fn standing(&self) -> impl Iterator<Item = &Trouble> {
        let unread = self.troubles.iter().filter(|card| card.read.is_none());
        unread.map(|card| &card.trouble)
    }
}

/// What a device has found out about the log of its ship.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Checked {
    /// The newest head that was checked.
    pub head: Option<Head>,
    /// Its signed text.
    pub note: String,
    /// When the log was last asked and the answer was checked, ms UTC by this device's clock.
    pub at_ms: Option<i64>,
    /// What was wrong, until a master has read it.
    pub trouble: Option<Trouble>,
}

/// A head that is shown to whoever remembers the log, with what was asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Showing {
    /// The signed head.
    pub note: String,
    /// The proofs that were wanted; empty in the first question.
    #[serde(default)]
    pub proofs: Vec<record::merkle::ConsistencyProof>,
}

/// A record's place in the log, with the path to the root of that size.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Inclusion {
    /// Which leaf the record is, from 0.
    pub leaf: u64,
    /// The size of the log.
    pub size: u64,
    /// The root of that size, hexadecimal.
    pub root: String,
    /// The hashes from the leaf's sibling to the root's, hexadecimal.
    pub path: Vec<String>,
}

/// What the one who was shown a head answers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum HeadAnswer {
    /// It agrees with what is remembered.
    Agrees,
    /// Consistency from these sizes is to be proven first.
    Wants(Vec<u64>),
    /// It does not agree; this stands until a master has read it.
    Stands(Box<Trouble>),
}
