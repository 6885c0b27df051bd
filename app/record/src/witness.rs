//! Remembers heads of a log and judges each new one: a log only ever grows.
//!
//! Whoever reads a log is a witness of it: a phone of the ship's roll, the office of the ship's, the ship's
//! server of its own. A witness keeps the newest signed head and some older ones at widening distances
//! (all proven to begin the newest), so that one at or below any point to which a backup may be put back
//! is there to compare.
//!
//! A head that does not extend what is remembered is one of two things. Where the log's keeper declares a
//! [`Restore`] and all that lies before it agrees, the store was put back from a backup: its newest records
//! are gone and are sent again. Anything else is a [`Contradiction`]: somebody rewrote the log, or two
//! servers sign with one key. Both are shown; only the words differ.

use serde::{Deserialize, Serialize};

use crate::checkpoint::{Checkpoint, Restore};
use crate::merkle::{ConsistencyProof, TreeHead, verify_consistency};

/// What a witness remembers of one log.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Witness {
    /// Older heads, by ascending size, each proven to begin the next.
    rungs: Vec<Rung>,
    newest: Option<Remembered>,
}

/// An older head.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
struct Rung {
    head: TreeHead,
    /// How many restores had been declared then.
    restores: usize,
}

/// The newest head, as it was signed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Remembered {
    /// What it says.
    pub checkpoint: Checkpoint,
    /// The signed note.
    pub note: String,
    /// When it was first seen, ms UTC by the witness's clock.
    pub seen_ms: i64,
}

/// What a new head is, beside what is remembered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// The first one seen of this log.
    First,
    /// The log has the records it had, and perhaps more.
    Extends,
    /// The log's keeper says that its store was put back from a backup, and all before agrees.
    Restored {
        /// What was declared.
        restore: Restore,
        /// The largest remembered size that was found again; 0 if the backup was older than all.
        agreed: u64,
    },
    /// Remembered records are gone or changed, and nothing explains it.
    Contradicts(Contradiction),
}

/// Two heads of one log that cannot both be true.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Contradiction {
    /// The head that is remembered.
    pub remembered: TreeHead,
    /// The head that was shown now.
    pub shown: TreeHead,
}

/// Why a new head could not be judged: nothing is known against the log.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Unjudged {
    /// The proof that [`Witness::wants`] asked for is not there.
    #[error("the proof from size {from} is missing")]
    NoProof {
        /// The earlier size.
        from: u64,
    },
}

impl Witness {
    /// Returns the newest head that is remembered.
    pub fn newest(&self) -> Option<&Remembered> {
        self.newest.as_ref()
    }

    /// Returns every size that is remembered, with its root, ascending.
    pub fn heads(&self) -> impl DoubleEndedIterator<Item = TreeHead> {
        let newest = self.newest.as_ref().map(|newest| newest.checkpoint.head);
        self.rungs.iter().map(|rung| rung.head).chain(newest)
    }

    /// Returns the sizes from which consistency with `new` is to be proven before it can be judged.
    pub fn wants(&self, new: &Checkpoint) -> Vec<u64> {
        if self.newest.is_none() {
            let powers = (0..63).map(|power| 1_u64 << power);
            return powers.take_while(|size| *size < new.head.size).collect();
        }
        let base = self.base(new).map(|head| head.size);
        base.filter(|size| *size > 0 && *size < new.head.size)
            .into_iter()
            .collect()
    }

    /// Judges a head whose signature has been checked, and remembers it unless it contradicts.
    ///
    /// # Errors
    /// [`Unjudged`] if a proof that is wanted is not there.
    pub fn judge(
        &mut self,
        new: &Checkpoint,
        note: &str,
        proofs: &[ConsistencyProof],
        now_ms: i64,
    ) -> Result<Verdict, Unjudged> {
        let Some(newest) = &self.newest else {
            self.climb(new, proofs);
            self.remember(new, note, now_ms);
            return Ok(Verdict::First);
        };
        let contradiction = Contradiction {
            remembered: newest.checkpoint.head,
            shown: new.head,
        };
        let known = &newest.checkpoint.restores;
        if !new.restores.starts_with(known) {
            return Ok(Verdict::Contradicts(contradiction));
        }
        let base = self.base(new);
        if let Some(base) = base
            && !extends(base, new, proofs)?
        {
            let contradiction = Contradiction {
                remembered: base,
                ..contradiction
            };
            return Ok(Verdict::Contradicts(contradiction));
        }
        let agreed = base.map_or(0, |head| head.size);
        if agreed == newest.checkpoint.head.size {
            if agreed < new.head.size || new.restores.len() > known.len() {
                self.remember(new, note, now_ms);
            }
            return Ok(Verdict::Extends);
        }
        let restore = new.restores[known.len()..]
            .iter()
            .find(|restore| restore.kept < newest.checkpoint.head.size);
        // A restore to before all that is remembered is believed only of a log that began anew.
        let Some(restore) = restore
            .filter(|restore| agreed > 0 || restore.kept == 0)
            .copied()
        else {
            return Ok(Verdict::Contradicts(contradiction));
        };
        self.rungs.retain(|rung| rung.head.size <= agreed);
        self.newest = None;
        self.remember(new, note, now_ms);
        Ok(Verdict::Restored { restore, agreed })
    }

    /// Takes up a head that the witness answers for itself: the log's keeper its own.
    pub fn remember(&mut self, new: &Checkpoint, note: &str, now_ms: i64) {
        if let Some(newest) = self.newest.take() {
            self.rungs.push(Rung {
                head: newest.checkpoint.head,
                restores: newest.checkpoint.restores.len(),
            });
        }
        self.newest = Some(Remembered {
            checkpoint: new.clone(),
            note: note.to_owned(),
            seen_ms: now_ms,
        });
        self.thin(new.head.size);
    }

    /// Returns the largest remembered head that no restore declared since takes back.
    fn base(&self, new: &Checkpoint) -> Option<TreeHead> {
        let is_taken_back = |head: TreeHead, restores: usize| {
            let since = new.restores.get(restores..).unwrap_or_default();
            since
                .iter()
                .any(|restore| restore.kept < head.size && head.size <= restore.lost)
        };
        let newest = self.newest.as_ref()?;
        let restores = newest.checkpoint.restores.len();
        if !is_taken_back(newest.checkpoint.head, restores) {
            return Some(newest.checkpoint.head);
        }
        let mut older = self.rungs.iter().rev();
        older
            .find(|rung| !is_taken_back(rung.head, rung.restores))
            .map(|rung| rung.head)
    }

    /// Takes up older heads that are proven to begin `new`, at first sight of a log.
    fn climb(&mut self, new: &Checkpoint, proofs: &[ConsistencyProof]) {
        for proof in proofs {
            if verify_consistency(&proof.from, &new.head, &proof.hashes).is_ok() {
                self.rungs.push(Rung {
                    head: proof.from,
                    restores: new.restores.len(),
                });
            }
        }
        self.rungs.sort_unstable_by_key(|rung| rung.head.size);
        self.rungs.dedup_by_key(|rung| rung.head.size);
    }

    /// Keeps of the older heads one for each doubling of size and one for each doubling of distance.
    fn thin(&mut self, size: u64) {
        let (mut sizes, mut distances) = (0_u64, 0_u64);
        self.rungs.retain(|rung| {
            let distance = size.saturating_sub(rung.head.size);
            if distance == 0 || rung.head.size == 0 {
                return false;
            }
            let (by_size, by_distance) = (1 << rung.head.size.ilog2(), 1 << distance.ilog2());
            let is_kept = sizes & by_size == 0 || distances & by_distance == 0;
            sizes |= by_size;
            distances |= by_distance;
            is_kept
        });
    }
}

/// Says whether `new` extends `base`.
fn extends(
    base: TreeHead,
    new: &Checkpoint,
    proofs: &[ConsistencyProof],
) -> Result<bool, Unjudged> {
    let from = base.size;
    if from > new.head.size {
        return Ok(false);
    }
    if from == 0 || from == new.head.size {
        return Ok(verify_consistency(&base, &new.head, &[]).is_ok());
    }
    // The proof's own word for the earlier root counts for nothing: the remembered one is checked.
    let proof = proofs
        .iter()
        .find(|proof| proof.from.size == from)
        .ok_or(Unjudged::NoProof { from })?;
    Ok(verify_consistency(&base, &new.head, &proof.hashes).is_ok())
}

#[cfg(test)]
mod tests;
