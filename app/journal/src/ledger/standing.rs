//! What a key's holder might do when a record was made, so far as the set of records can tell.
//!
//! A record bears the time that its signer gave it, and whoever has lost a role can set a clock back. So a record
//! is judged twice, by the time that it bears and by the latest that the other records allow, and counts for what
//! both agree on: a role that was gained or lost in between counts for neither.
//!
//! Receipts are no part of this: they are not in the set, and every device must come to the same state.

use super::{Ledger, Said};
use procedure::Roles;
use record::{Hlc, RecordId, VerifiedRecord};

/// After every identity.
const LAST: RecordId = RecordId([0xff; 32]);

impl Ledger {
    /// Returns the latest moment at which the other records say that a record was made at the earliest: its own
    /// stamp, or that of a record that was there before it, which is the one before in its chain, its run's start
    /// and those that it names as seen; or of the credential from whose number on its key is judged by that one.
    ///
    /// A stamp that lies more than [`record::MAX_LEAD_MS`] ahead of the record's own is of a clock that is far
    /// off, which nobody follows.
    pub(super) fn judged_at(&self, record: &VerifiedRecord) -> Hlc {
        let own = record.hlc();
        let bound = own.ms.saturating_add(record::MAX_LEAD_MS);
        let before = record.prev().into_iter().chain(record.run());
        let seen = before.chain(record.heads().iter().copied());
        let stamps = seen
            .filter_map(|id| self.stamp_of(id))
            .filter(|stamp| stamp.ms <= bound);
        let changes = self.role_changes.get(&record.device());
        let changed = changes
            .into_iter()
            .flatten()
            .filter(|(last_seq, _)| *last_seq < record.seq())
            .filter_map(|(_, credential)| self.entries.get(credential))
            .map(|entry| entry.record.hlc());
        stamps.chain(changed).fold(own, Hlc::max)
    }

    /// Returns the roles that the key had when the record was made; none if its credential says that it is someone
    /// else's, that they had not joined yet or had left by then, it is withdrawn, or the record is pending. A record
    /// stamped before any credential, by a clock that is far behind, is judged by the first.
    pub(crate) fn roles_of(&self, record: &VerifiedRecord) -> Roles {
        let is_pending = self
            .entries
            .get(&record.id())
            .is_none_or(|entry| entry.is_pending);
        if is_pending || self.is_withdrawn(record) {
            return Roles::NONE;
        }
        let Some(then) = self.said_at(record, record.hlc()) else {
            return Roles::NONE;
        };
        if !then.holds(record.hlc()) {
            return Roles::NONE;
        }
        // The end of a credential is not looked for at the later moment: a record that came before the end counts.
        let later = self.said_at(record, self.judged_at(record));
        later.map_or(Roles::NONE, |later| then.roles.and(later.roles))
    }

    /// Says whether a record was made after its key was withdrawn.
    pub(super) fn is_withdrawn(&self, record: &VerifiedRecord) -> bool {
        let withdrawn = self.withdrawn.get(&record.device());
        withdrawn.is_some_and(|withdrawal| record.seq() > withdrawal.last_seq)
    }

    /// Returns what the newest credential before a moment says of the record's key, if it says that it is its author's.
    fn said_at(&self, record: &VerifiedRecord, stamp: Hlc) -> Option<&Said> {
        let history = self.roles.get(&record.device())?;
        let then = history.range(..=(stamp, LAST));
        let then = then.map(|(_, said)| said).next_back();
        then.or(history.values().next())
            .filter(|said| said.person == *record.author())
    }
}

impl Said {
    /// Says whether the person had joined at `stamp`, and the credential had not ended.
    fn holds(&self, stamp: Hlc) -> bool {
        i64::try_from(stamp.ms / 1000).is_ok_and(|stamp_s| {
            self.joins_s.is_none_or(|joins_s| joins_s <= stamp_s) && stamp_s < self.expires_s
        })
    }
}
