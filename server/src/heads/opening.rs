//! What happens to the logs when the server starts: was the store put back from a backup?

use super::{Heads, Signed, file_of};
use crate::fleet::FleetError;
use crate::private_file;
use journal::log::{Finder, Found, Head, Trouble};
use record::merkle::TreeHead;
use record::witness::{Verdict, Witness};
use record::{Checkpoint, Restore, VesselId};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::Path;
use storage::StorageError;

/// How many starts are remembered, newest last.
const OPENINGS: usize = 200;

/// A log of so many records is compared with them before the server serves; a larger one meanwhile.
const AUDITED_AT_ONCE: u64 = 20_000;

/// A start of the server, as the database has it.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
struct Opening {
    /// When, ms UTC by the server's clock.
    at_ms: i64,
    /// How many records the log had.
    size: u64,
}

/// A start of this server that is not written down yet.
#[derive(Debug, Clone)]
pub(super) struct Start {
    at_ms: i64,
    sizes: BTreeMap<VesselId, u64>,
}

fn openings_note(vessel: VesselId) -> String {
    format!("log/openings/{vessel}")
}

fn folder_fault(path: &Path) -> impl FnOnce(std::io::Error) -> FleetError {
    move |source| FleetError::Folder {
        path: path.to_owned(),
        source,
    }
}

impl Heads {
    /// Has every head that is signed from now on kept in the data folder, beside the database.
    ///
    /// # Errors
    /// [`FleetError::Folder`] if the folder cannot be made.
    pub fn keep_in(&self, data: &Path) -> Result<&Path, FleetError> {
        let folder = data.join(super::FOLDER);
        std::fs::create_dir_all(&folder).map_err(folder_fault(&folder))?;
        Ok(self.folder.get_or_init(|| folder))
    }

    /// Looks at every vessel's log when the server starts: whether the store holds what its tree says,
    /// and what was signed before. Where nothing could be written, it is to be asked again: the start is then
    /// still that of the first time.
    ///
    /// # Errors
    /// [`FleetError`] if the store or the folder fails.
    pub async fn open(
        &self,
        data: &Path,
        vessels: &[VesselId],
        now_ms: i64,
    ) -> Result<(), FleetError> {
        let folder = self.keep_in(data)?;
        let mut start = self.begin(now_ms);
        for vessel in vessels {
            let size = self.store.log_size(*vessel).await?;
            if size <= AUDITED_AT_ONCE {
                self.audit_now(*vessel).await?;
            }
            let opening = Opening {
                at_ms: start.at_ms,
                size: *start.sizes.entry(*vessel).or_insert(size),
            };
            *self.start() = Some(start.clone());
            self.compare_beside(folder, *vessel, size, now_ms).await?;
            let name = openings_note(*vessel);
            self.change(&name, |mut openings: Vec<Opening>| {
                openings.push(opening);
                let extra = openings.len().saturating_sub(OPENINGS);
                openings.drain(..extra);
                Some(openings)
            })
            .await?;
        }
        *self.start() = None;
        Ok(())
    }

    async fn audit_now(&self, vessel: VesselId) -> Result<(), FleetError> {
        let damage = self.audit(vessel).await?;
        for words in &damage {
            tracing::error!(%vessel, damage = words, "the store is not what the server wrote");
        }
        self.damage
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
            .insert(vessel, damage);
        Ok(())
    }

    /// Compares the logs that were too large for it when the server started, while it serves.
    pub async fn audit_large(&self, vessels: &[VesselId]) {
        for vessel in vessels {
            let size = self.store.log_size(*vessel).await;
            let audited = match size {
                Ok(size) if size <= AUDITED_AT_ONCE => continue,
                Ok(_) => self.audit_now(*vessel).await,
                Err(error) => Err(error.into()),
            };
            if let Err(error) = audited {
                tracing::error!(%vessel, %error, "the log could not be compared with its records");
            }
        }
    }

    fn start(&self) -> std::sync::MutexGuard<'_, Option<Start>> {
        let start = self.start.lock();
        start.unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    /// Returns the start that is to be written down: this one, or the one that could not be.
    fn begin(&self, now_ms: i64) -> Start {
        let new = || Start {
            at_ms: now_ms,
            sizes: BTreeMap::new(),
        };
        self.start().get_or_insert_with(new).clone()
    }

    /// Says whether the start could be written down.
    pub fn is_open(&self) -> bool {
        self.start().is_none()
    }

    /// # Errors
    /// [`StorageError::Unwritable`] while the start is not written down.
    pub(super) fn must_be_open(&self) -> Result<(), StorageError> {
        if self.is_open() {
            return Ok(());
        }
        let words = "no head of the log is signed before this start is written down";
        Err(StorageError::Unwritable(words.to_owned()))
    }

    /// Compares the log with the heads that stand beside the database.
    async fn compare_beside(
        &self,
        folder: &Path,
        vessel: VesselId,
        size: u64,
        now_ms: i64,
    ) -> Result<(), FleetError> {
        let path = file_of(folder, vessel);
        let witness = read_beside(&path).unwrap_or_else(|error| {
            tracing::error!(%error, source = ?std::error::Error::source(&error), "the heads kept here are lost");
            Witness::default()
        });
        let Some(newest) = witness.newest() else {
            return Ok(());
        };
        let newest = &newest.checkpoint;
        let mut disagrees: Option<TreeHead> = None;
        for head in witness.heads().filter(|head| head.size <= size) {
            let now = storage::log::head_at(&*self.store, vessel, head.size).await?;
            if now != Some(head) {
                disagrees = Some(head);
            }
        }
        if let Some(head) = disagrees {
            return self.found_rewritten(vessel, head, now_ms).await;
        }
        if newest.head.size > size {
            let restore = Restore {
                kept: size,
                lost: newest.head.size,
                at_ms: now_ms,
            };
            self.declare(vessel, &newest.restores, restore).await?;
            let found = Found::Restored(restore);
            return self.found(vessel, Head::from(newest), found, now_ms).await;
        }
        Ok(())
    }

    async fn found_rewritten(
        &self,
        vessel: VesselId,
        head: TreeHead,
        now_ms: i64,
    ) -> Result<(), FleetError> {
        let remembered = Head {
            size: head.size,
            root: head.root,
            signed_ms: None,
        };
        self.found(vessel, remembered, Found::Rewritten, now_ms)
            .await
    }

    async fn found(
        &self,
        vessel: VesselId,
        remembered: Head,
        found: Found,
        now_ms: i64,
    ) -> Result<(), FleetError> {
        let now = storage::log::head(&*self.store, vessel).await?;
        let trouble = Trouble {
            origin: self.origin(vessel),
            finder: Finder::Ship,
            found,
            remembered,
            shown: Head {
                size: now.size,
                root: now.root,
                signed_ms: None,
            },
            found_ms: now_ms,
        };
        self.keep_trouble(vessel, &trouble).await
    }

    /// Returns how many records the log had at the first start after `shown` was signed. A server that
    /// has run since before then cannot have been put back from a backup in between.
    pub(super) async fn reopened_after(
        &self,
        vessel: VesselId,
        shown: &Checkpoint,
    ) -> Result<Option<u64>, FleetError> {
        let openings: Vec<Opening> = self.read(&openings_note(vessel)).await?.unwrap_or_default();
        let Some(signed_ms) = shown.signed_ms else {
            return Ok(None);
        };
        let after = openings.iter().find(|opening| opening.at_ms > signed_ms);
        Ok(after.map(|opening| opening.size))
    }

    /// Writes a head beside the database before it is given out, with older ones that begin it.
    pub(super) async fn keep_beside(
        &self,
        vessel: VesselId,
        signed: &Signed,
        now_ms: i64,
    ) -> Result<(), FleetError> {
        let Some(folder) = self.folder.get() else {
            return Ok(());
        };
        let path = file_of(folder, vessel);
        // One that cannot be read has been told of at the start.
        let mut witness = read_beside(&path).unwrap_or_default();
        let verdict = self.judge_own(&mut witness, vessel, signed, now_ms).await?;
        if matches!(verdict, Verdict::Contradicts(_)) {
            // Found at the start, and told: from here on the log goes on from what it is now.
            witness = Witness::default();
            self.judge_own(&mut witness, vessel, signed, now_ms).await?;
        }
        let task = tokio::task::spawn_blocking(move || write_beside(&path, &witness));
        match task.await {
            Ok(done) => done,
            Err(error) => std::panic::resume_unwind(error.into_panic()),
        }
    }

    /// Returns the head that stands beside the database, if it is still that of the log.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails.
    pub async fn kept(&self, vessel: VesselId) -> Result<Option<Signed>, FleetError> {
        let Some(folder) = self.folder.get() else {
            return Ok(None);
        };
        let witness = read_beside(&file_of(folder, vessel)).unwrap_or_default();
        let Some(newest) = witness.newest() else {
            return Ok(None);
        };
        let now = storage::log::head(&*self.store, vessel).await?;
        let checkpoint = newest.checkpoint.clone();
        let is_still = checkpoint.head == now;
        let note = newest.note.clone();
        Ok(is_still.then_some(Signed { checkpoint, note }))
    }

    async fn judge_own(
        &self,
        witness: &mut Witness,
        vessel: VesselId,
        signed: &Signed,
        now_ms: i64,
    ) -> Result<Verdict, FleetError> {
        let wants = witness.wants(&signed.checkpoint);
        let size = signed.checkpoint.head.size;
        let proofs = self.prove(vessel, &wants, size).await?;
        Ok(witness.judge(&signed.checkpoint, &signed.note, &proofs, now_ms)?)
    }
}

/// Returns the heads kept beside the database; none where there is no file yet.
fn read_beside(path: &Path) -> Result<Witness, FleetError> {
    match std::fs::read(path) {
        Ok(bytes) => serde_json::from_slice(&bytes)
            .map_err(std::io::Error::other)
            .map_err(folder_fault(path)),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(Witness::default()),
        Err(source) => Err(folder_fault(path)(source)),
    }
}

fn write_beside(path: &Path, witness: &Witness) -> Result<(), FleetError> {
    let text = serde_json::to_vec(witness).map_err(std::io::Error::other);
    text.and_then(|bytes| private_file::replace(path, &bytes))
        .map_err(folder_fault(path))
}
