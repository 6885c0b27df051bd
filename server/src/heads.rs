//! Signed heads of the logs that this server keeps, and what it remembers of the logs of others.
//!
//! A head is signed when somebody asks and the log has grown since. Before it is given out it is written
//! beside the database: so a database that was put back from a backup is noticed at the next start. One that
//! came back together with the whole folder is noticed when a device shows a head that this server has
//! signed and does not have. Either way the server says so in every head from then on, and never signs
//! again as if nothing had been.

use crate::fleet::FleetError;
use journal::log::{
    Finder, Found, Head, HeadAnswer, LogCard, Showing, Trouble, TroubleCard, trouble_of,
};
use record::merkle::ConsistencyProof;
use record::witness::Witness;
use record::{Checkpoint, PublicKey, Restore, SoftKey, VesselId, log_origin};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};
use storage::{RecordStore, StorageError};
use tokio::sync::Mutex;

mod audit;
mod opening;

use opening::Start;

/// The folder beside the database, in the data folder.
const FOLDER: &str = "heads";
/// How many troubles are kept of one vessel: each takes a head that is rightly signed.
const TROUBLES: usize = 50;

/// A head, signed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signed {
    /// What it says.
    pub checkpoint: Checkpoint,
    /// The signed note.
    pub note: String,
}

/// The heads of every vessel's log here.
#[derive(Debug)]
pub struct Heads {
    store: Arc<dyn RecordStore>,
    own: Option<Arc<SoftKey>>,
    folder: OnceLock<PathBuf>,
    /// This start, until it is written down: when it was, and how many records each log had.
    start: std::sync::Mutex<Option<Start>>,
    signed: Mutex<BTreeMap<VesselId, Signed>>,
    damage: std::sync::Mutex<BTreeMap<VesselId, Vec<String>>>,
    /// What is remembered is read, judged and written by one at a time here; other servers over the same
    /// database are told by what a note was when it was read.
    remembering: Mutex<()>,
}

impl Heads {
    /// Makes heads signed by `own`; none can be signed without.
    pub fn new(store: Arc<dyn RecordStore>, own: Option<Arc<SoftKey>>) -> Self {
        Self {
            store,
            own,
            folder: OnceLock::new(),
            start: std::sync::Mutex::new(None),
            signed: Mutex::new(BTreeMap::new()),
            damage: std::sync::Mutex::new(BTreeMap::new()),
            remembering: Mutex::new(()),
        }
    }

    fn key(&self) -> Result<&SoftKey, FleetError> {
        self.own.as_deref().ok_or(FleetError::NoShip)
    }

    /// Says whether the log is the ship's own and not an office's copy.
    pub fn is_own(&self, vessel: VesselId) -> bool {
        let own = self.own.as_ref().map(|key| key.public().vessel());
        own == Some(vessel)
    }

    /// Returns the key under which heads are signed here, for a vessel that is not this server's own.
    pub fn office(&self, vessel: VesselId) -> Option<PublicKey> {
        let key = self.own.as_deref().map(SoftKey::public);
        key.filter(|_| !self.is_own(vessel))
    }

    /// Returns the name of the vessel's log here.
    pub fn origin(&self, vessel: VesselId) -> String {
        let place = if self.is_own(vessel) {
            "ship"
        } else {
            "office"
        };
        log_origin(place, vessel)
    }

    /// Returns the head of the vessel's log, signed.
    ///
    /// # Errors
    /// [`FleetError`] if there is no key, or the store or the folder fails.
    pub async fn head(&self, vessel: VesselId, now_ms: i64) -> Result<Signed, FleetError> {
        let key = self.key()?;
        let mut signed = self.signed.lock().await;
        let size = self.store.log_size(vessel).await?;
        if let Some(known) = signed.get(&vessel)
            && known.checkpoint.head.size == size
        {
            return Ok(known.clone());
        }
        let head = storage::log::head(&*self.store, vessel).await?;
        let checkpoint = Checkpoint {
            origin: self.origin(vessel),
            head,
            signed_ms: Some(now_ms),
            restores: self.restores(vessel).await?,
        };
        // After a restart the head that was given out before is given out again.
        let says_the_same = |kept: &Signed| {
            kept.checkpoint.origin == checkpoint.origin
                && kept.checkpoint.restores == checkpoint.restores
        };
        let kept = self.kept(vessel).await?.filter(says_the_same);
        let new = if let Some(kept) = kept {
            kept
        } else {
            // What the start found is declared first.
            self.must_be_open()?;
            let note = checkpoint.sign(key)?;
            let new = Signed { checkpoint, note };
            self.keep_beside(vessel, &new, now_ms).await?;
            new
        };
        signed.insert(vessel, new.clone());
        Ok(new)
    }

    /// Proves that the first records of each of these numbers begin the first `to`.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails; sizes that are not there are left out.
    pub async fn prove(
        &self,
        vessel: VesselId,
        from: &[u64],
        to: u64,
    ) -> Result<Vec<ConsistencyProof>, FleetError> {
        let mut proofs = Vec::with_capacity(from.len());
        for size in from {
            let head = storage::log::head_at(&*self.store, vessel, *size).await?;
            let hashes = storage::log::consistency(&*self.store, vessel, *size, to).await?;
            if let (Some(from), Some(hashes)) = (head, hashes) {
                proofs.push(ConsistencyProof { from, hashes });
            }
        }
        Ok(proofs)
    }

    /// Takes a head that somebody remembers or shows: of this server's own log, whether it has what it
    /// signed; of the ship's roll, whether it agrees with what is remembered here.
    ///
    /// # Errors
    /// [`FleetError`] if the head is not rightly signed, or the store fails.
    pub async fn seen(
        &self,
        vessel: VesselId,
        authority: &PublicKey,
        showing: &Showing,
        now_ms: i64,
    ) -> Result<HeadAnswer, FleetError> {
        let own_origin = self.origin(vessel);
        if showing.note.lines().next() == Some(own_origin.as_str()) {
            let key = self.key()?.public();
            let shown = Checkpoint::verify(&showing.note, &own_origin, &key)?;
            return self.shown_own(vessel, &shown, now_ms).await;
        }
        let ships = log_origin("ship", vessel);
        let shown = Checkpoint::verify(&showing.note, &ships, authority)?;
        self.shown_ships(vessel, &shown, showing, now_ms).await
    }

    /// A head that this server itself has signed, once.
    async fn shown_own(
        &self,
        vessel: VesselId,
        shown: &Checkpoint,
        now_ms: i64,
    ) -> Result<HeadAnswer, FleetError> {
        let _one = self.remembering.lock().await;
        let size = shown.head.size;
        if storage::log::head_at(&*self.store, vessel, size).await? == Some(shown.head) {
            return Ok(HeadAnswer::Agrees);
        }
        let restores = self.restores(vessel).await?;
        let known = restores.get(..shown.restores.len());
        let is_explained = |restore: &Restore| restore.kept < size && size <= restore.lost;
        let since = restores.get(shown.restores.len()..).unwrap_or_default();
        if known == Some(&shown.restores) && since.iter().any(is_explained) {
            return Ok(HeadAnswer::Agrees);
        }
        let found = match self.reopened_after(vessel, shown).await? {
            Some(kept) if kept < size => {
                let restore = Restore {
                    kept,
                    lost: size,
                    at_ms: now_ms,
                };
                self.declare(vessel, &shown.restores, restore).await?;
                Found::Restored(restore)
            }
            _ => Found::Rewritten,
        };
        let now = storage::log::head(&*self.store, vessel).await?;
        let trouble = Trouble {
            origin: self.origin(vessel),
            finder: Finder::Device,
            found,
            remembered: Head::from(shown),
            shown: Head {
                size: now.size,
                root: now.root,
                signed_ms: None,
            },
            found_ms: now_ms,
        };
        self.keep_trouble(vessel, &trouble).await?;
        Ok(HeadAnswer::Stands(Box::new(trouble)))
    }

    /// A head of the ship's roll, shown to the office that remembers others.
    async fn shown_ships(
        &self,
        vessel: VesselId,
        shown: &Checkpoint,
        showing: &Showing,
        now_ms: i64,
    ) -> Result<HeadAnswer, FleetError> {
        let _one = self.remembering.lock().await;
        let name = witness_note(&shown.origin);
        loop {
            let (before, mut witness) = self.noted::<Witness>(&name).await?;
            let wants = witness.wants(shown);
            let is_proven =
                |size: &u64| showing.proofs.iter().any(|proof| proof.from.size == *size);
            if !wants.iter().all(is_proven) {
                return Ok(HeadAnswer::Wants(wants));
            }
            let remembered = witness.newest().map(|newest| newest.checkpoint.clone());
            let verdict = witness.judge(shown, &showing.note, &showing.proofs, now_ms)?;
            let trouble = trouble_of(&verdict, remembered.as_ref(), shown, Finder::Office, now_ms);
            let is_rewritten = trouble.as_ref().map(|trouble| &trouble.found);
            let is_rewritten = is_rewritten == Some(&Found::Rewritten);
            // Where another server has seen a head meanwhile, it is judged again by what that one remembers.
            if !is_rewritten && !self.swap(&name, before.as_deref(), &witness).await? {
                continue;
            }
            let Some(trouble) = trouble else {
                return Ok(HeadAnswer::Agrees);
            };
            self.keep_trouble(vessel, &trouble).await?;
            return Ok(HeadAnswer::Stands(Box::new(trouble)));
        }
    }

    /// Goes on from the head that is shown next, once a master has read that it contradicts.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails.
    pub async fn go_on(&self, vessel: VesselId, read: &[Trouble]) -> Result<(), FleetError> {
        let _one = self.remembering.lock().await;
        let name = witness_note(&log_origin("ship", vessel));
        self.change(&name, |witness: Witness| {
            let newest = witness.newest()?;
            let is_read = read.iter().any(|trouble| {
                trouble.finder == Finder::Office
                    && trouble.found == Found::Rewritten
                    && trouble.found_ms >= newest.seen_ms
            });
            is_read.then(Witness::default)
        })
        .await
    }

    /// Makes what a page shows of a vessel's log; her name, and who has read what, stand in the ledger.
    ///
    /// # Errors
    /// [`FleetError`] if there is no key, or the store fails.
    pub async fn card(&self, vessel: VesselId, now_ms: i64) -> Result<LogCard, FleetError> {
        let signed = self.head(vessel, now_ms).await?;
        let ships = witness_note(&log_origin("ship", vessel));
        let witness: Witness = self.read(&ships).await?.unwrap_or_default();
        let ship = witness.newest();
        let troubles = self.troubles(vessel).await?.into_iter();
        Ok(LogCard {
            vessel,
            name: String::new(),
            origin: signed.checkpoint.origin.clone(),
            head: Head::from(&signed.checkpoint),
            note: signed.note,
            restores: signed.checkpoint.restores,
            damage: self.damage(vessel),
            troubles: troubles
                .map(|trouble| TroubleCard {
                    trouble,
                    read: None,
                })
                .collect(),
            ship: ship.map(|newest| (Head::from(&newest.checkpoint), newest.seen_ms)),
            now_ms,
        })
    }

    /// Returns what was found wrong with the vessel's logs, oldest first, read or not.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails.
    pub async fn troubles(&self, vessel: VesselId) -> Result<Vec<Trouble>, FleetError> {
        Ok(self.read(&troubles_note(vessel)).await?.unwrap_or_default())
    }

    /// Keeps what an office holds against this log.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails.
    pub async fn disputed(&self, vessel: VesselId, trouble: &Trouble) -> Result<(), FleetError> {
        let _one = self.remembering.lock().await;
        self.keep_trouble(vessel, trouble).await
    }

    fn damage(&self, vessel: VesselId) -> Vec<String> {
        let damage = self.damage.lock();
        let damage = damage.unwrap_or_else(std::sync::PoisonError::into_inner);
        damage.get(&vessel).cloned().unwrap_or_default()
    }

    async fn keep_trouble(&self, vessel: VesselId, trouble: &Trouble) -> Result<(), FleetError> {
        self.change(&troubles_note(vessel), |mut all: Vec<Trouble>| {
            if all.iter().any(|known| known.is_same(trouble)) || all.len() >= TROUBLES {
                return None;
            }
            tracing::error!(
                %vessel, log = trouble.origin, found = ?trouble.found,
                remembered = trouble.remembered.size, shown = trouble.shown.size,
                "the log is not what was remembered of it"
            );
            all.push(trouble.clone());
            Some(all)
        })
        .await
    }

    async fn restores(&self, vessel: VesselId) -> Result<Vec<Restore>, FleetError> {
        Ok(self.read(&restores_note(vessel)).await?.unwrap_or_default())
    }

    /// Returns the newest restore of the vessel's log while records that it lost are still missing.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails.
    pub async fn lacks(&self, vessel: VesselId) -> Result<Option<Restore>, FleetError> {
        let newest = self.restores(vessel).await?.pop();
        let size = self.store.log_size(vessel).await?;
        Ok(newest.filter(|restore| size < restore.lost))
    }

    /// Declares a restore after those that are known; what was declared before the backup was made may be
    /// known from a head that is lost only.
    async fn declare(
        &self,
        vessel: VesselId,
        lost: &[Restore],
        restore: Restore,
    ) -> Result<(), FleetError> {
        self.change(&restores_note(vessel), |known: Vec<Restore>| {
            let mut all = if lost.len() > known.len() {
                lost.to_vec()
            } else {
                known
            };
            all.push(restore);
            Some(all)
        })
        .await?;
        self.signed.lock().await.remove(&vessel);
        Ok(())
    }

    async fn read<T: DeserializeOwned>(&self, name: &str) -> Result<Option<T>, FleetError> {
        let Some(bytes) = self.store.note(name).await? else {
            return Ok(None);
        };
        serde_json::from_slice(&bytes)
            .map(Some)
            .map_err(|error| corrupt(name, &error))
    }

    /// Reads a note as its bytes and as what they say.
    async fn noted<T>(&self, name: &str) -> Result<(Option<Vec<u8>>, T), FleetError>
    where
        T: Default + DeserializeOwned,
    {
        let before = self.store.note(name).await?;
        let read = before.as_deref().map(serde_json::from_slice).transpose();
        let read = read.map_err(|error| corrupt(name, &error))?;
        Ok((before, read.unwrap_or_default()))
    }

    /// Writes a note over the one that was read, unless another server has changed it since.
    async fn swap<T: Serialize>(
        &self,
        name: &str,
        before: Option<&[u8]>,
        value: &T,
    ) -> Result<bool, FleetError> {
        let bytes = serde_json::to_vec(value).map_err(|error| corrupt(name, &error))?;
        Ok(self.store.swap_note(name, before, &bytes).await?)
    }

    /// Changes a note as it stands: of several servers over one database that do so at once, each goes on
    /// from what the others wrote. Nothing is written where there is nothing to change.
    async fn change<T>(
        &self,
        name: &str,
        changed: impl Fn(T) -> Option<T>,
    ) -> Result<(), FleetError>
    where
        T: Default + Serialize + DeserializeOwned,
    {
        loop {
            let (before, now) = self.noted::<T>(name).await?;
            let Some(after) = changed(now) else {
                return Ok(());
            };
            if self.swap(name, before.as_deref(), &after).await? {
                return Ok(());
            }
        }
    }
}

fn corrupt(name: &str, error: &serde_json::Error) -> FleetError {
    StorageError::Corrupt(format!("the note {name:?}: {error}")).into()
}

fn witness_note(origin: &str) -> String {
    format!("log/witness/{origin}")
}

fn troubles_note(vessel: VesselId) -> String {
    format!("log/troubles/{vessel}")
}

fn restores_note(vessel: VesselId) -> String {
    format!("log/restores/{vessel}")
}

fn file_of(folder: &Path, vessel: VesselId) -> PathBuf {
    folder.join(format!("{vessel}.json"))
}

#[cfg(test)]
mod tests;
