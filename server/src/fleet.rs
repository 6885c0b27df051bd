//! The vessels whose records this server keeps, and what follows from them.
//!
//! One ledger a vessel, folded from the store at start and kept up with every record that arrives. The
//! store is written first, the ledger after: what a page shows is on disk.

use crate::clock::{now_ms, on_record};
use crate::heads::Heads;
use crate::wellbeing::Wellbeing;
pub use authority_note::knows_authority;
use authority_note::{authority_note, note_authority};
pub use error::FleetError;
use journal::board::Heard;
use journal::{Body, Ledger};
use judge::Judged;
pub use page_size::TooMuch;
use page_size::check_page;
pub use people::NotHeld;
use record::sync::{PushReply, Rejected};
use record::{
    DeviceId, Draft, Hlc, PersonId, PublicKey, Receipt, RecordId, SoftKey, VerifiedRecord, VesselId,
};
pub use runs::Held;
use runs::Runs;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};
use storage::{Appended, Arrival, Quarantined, RecordStore};
use tokio::sync::{Mutex, RwLock, watch};

mod anchor;
mod authority_note;
mod boards;
mod catch_up;
mod disk;
mod error;
mod judge;
mod log;
mod opening;
mod page_size;
mod people;
mod runs;

/// How many refused items of one page are kept to be looked at; the sender is told of all.
const SET_ASIDE_AT_ONCE: usize = 20;
/// Who the authority's own records are by.
pub const AUTHORITY_PERSON: &str = "ship";

/// The vessels, their ledgers and their store.
#[derive(Debug)]
pub struct Fleet {
    store: Arc<dyn RecordStore>,
    own: Option<Arc<SoftKey>>,
    heads: Heads,
    ledgers: Arc<RwLock<BTreeMap<VesselId, Ledger>>>,
    runs: Runs,
    /// The board that was made last of each vessel, for all who watch.
    boards: Mutex<BTreeMap<VesselId, boards::Shared>>,
    heard: std::sync::Mutex<BTreeMap<DeviceId, Heard>>,
    /// Only one change of the crew is made at a time: each starts from the one before.
    musters: Mutex<()>,
    /// Only one push is ordered at a time, so that the ledger and the store agree on what came first.
    order: Mutex<()>,
    changed: watch::Sender<u64>,
    wellbeing: Arc<Wellbeing>,
    desk: OnceLock<Arc<crate::anchor_watch::Desk>>,
}

impl Fleet {
    /// Opens the store's vessels; `own` is this ship's authority key, none ashore.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails.
    pub async fn open(
        store: Arc<dyn RecordStore>,
        own: Option<SoftKey>,
    ) -> Result<Self, FleetError> {
        let own = own.map(Arc::new);
        let mut ledgers = BTreeMap::new();
        let runs = Runs::new(own.as_deref());
        let mut vessels = store.vessels().await?;
        if let Some(key) = &own {
            let public = key.public();
            note_authority(&*store, &public).await?;
            if !vessels.contains(&public.vessel()) {
                vessels.push(public.vessel());
            }
        }
        for vessel in vessels {
            let Some(bytes) = store.note(&authority_note(vessel)).await? else {
                tracing::warn!(%vessel, "no authority key is known for this vessel: left out");
                continue;
            };
            let ledger = opening::open(&store, &runs, PublicKey::from_bytes(&bytes)?).await?;
            ledgers.insert(vessel, ledger);
        }
        let changed = watch::Sender::new(0);
        let vessels: Vec<VesselId> = ledgers.keys().copied().collect();
        let fleet = Self {
            wellbeing: Arc::new(Wellbeing::new(changed.clone())),
            heads: Heads::new(Arc::clone(&store), own.clone()),
            store,
            own,
            ledgers: Arc::new(RwLock::new(ledgers)),
            runs,
            boards: Mutex::default(),
            heard: std::sync::Mutex::new(BTreeMap::new()),
            musters: Mutex::new(()),
            order: Mutex::new(()),
            changed,
            desk: OnceLock::new(),
        };
        for vessel in vessels {
            fleet.settle(vessel).await?;
        }
        Ok(fleet)
    }

    /// Returns the ship's own authority key.
    pub fn own(&self) -> Option<&SoftKey> {
        self.own.as_deref()
    }

    /// Returns the ship's own vessel.
    pub fn own_vessel(&self) -> Option<VesselId> {
        self.own.as_ref().map(|key| key.public().vessel())
    }

    /// Returns the heads of the vessels' logs.
    pub fn heads(&self) -> &Heads {
        &self.heads
    }

    /// Returns what is wrong with this server.
    pub fn wellbeing(&self) -> &Arc<Wellbeing> {
        &self.wellbeing
    }

    /// Returns the store.
    pub fn store(&self) -> &Arc<dyn RecordStore> {
        &self.store
    }

    /// Tells of every change: the value counts them.
    pub fn changes(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    /// Takes a vessel into the fleet whose authority holds `key`; one that is there is left as it is.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails.
    pub async fn pin(&self, key: PublicKey) -> Result<(), FleetError> {
        note_authority(&*self.store, &key).await?;
        self.ledgers
            .write()
            .await
            .entry(key.vessel())
            .or_insert_with(|| Ledger::new(key));
        Ok(())
    }

    /// Does something with a vessel's ledger.
    ///
    /// # Errors
    /// [`FleetError::NoVessel`] if there is none.
    pub async fn with<T>(
        &self,
        vessel: VesselId,
        work: impl FnOnce(&Ledger) -> T,
    ) -> Result<T, FleetError> {
        let ledgers = self.ledgers.read().await;
        ledgers
            .get(&vessel)
            .map(work)
            .ok_or(FleetError::NoVessel(vessel))
    }

    /// Does something with every vessel's ledger.
    pub async fn each<T>(&self, work: impl FnMut(&Ledger) -> T) -> Vec<T> {
        self.ledgers.read().await.values().map(work).collect()
    }

    /// Notes that a device was heard, and how its clock stood.
    pub fn note_heard(&self, device: DeviceId, device_ms: Option<i64>) {
        let now = now_ms();
        let mut heard = self
            .heard
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        let slot = heard.entry(device).or_default();
        slot.at_ms = now;
        if let Some(device_ms) = device_ms {
            slot.offset_ms = device_ms.saturating_sub(now);
        }
    }

    fn heard(&self) -> BTreeMap<DeviceId, Heard> {
        self.heard
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
            .clone()
    }

    /// Puts something on record by the ship's authority.
    ///
    /// # Errors
    /// [`FleetError`] ashore, or if the store fails.
    pub async fn author(
        &self,
        run: Option<RecordId>,
        body: Body,
        now_ms: i64,
    ) -> Result<RecordId, FleetError> {
        self.author_with(run, body, |_, _| None, now_ms).await
    }

    /// Signs a record with the ship's authority, and one more that may name it; both are stored, or none.
    ///
    /// # Errors
    /// As [`Fleet::author`].
    pub async fn author_with(
        &self,
        run: Option<RecordId>,
        body: Body,
        then: impl FnOnce(&Ledger, RecordId) -> Option<Body>,
        now_ms: i64,
    ) -> Result<RecordId, FleetError> {
        let key = self.own.as_ref().ok_or(FleetError::NoShip)?;
        let public = key.public();
        let _order = self.order.lock().await;
        self.may_author(public.vessel()).await?;
        let end = self
            .store
            .chain_end(public.vessel(), public.device())
            .await?;
        let place = |ledger: &Ledger| (ledger.heads(run, public.device()), ledger.newest(now_ms));
        let (heads, newest) = self
            .with_runs(public.vessel(), |_| run.into_iter().collect(), place)
            .await?;
        let sign = |body: &Body, end: Option<(u64, RecordId)>, newest: Hlc| {
            let draft = Draft {
                vessel: public.vessel(),
                device: public.device(),
                seq: end.map_or(1, |(seq, _)| seq + 1),
                prev: end.map(|(_, id)| id),
                run,
                heads: heads.clone(),
                time_ms: now_ms,
                hlc: newest.tick(now_ms),
                author: PersonId::from(AUTHORITY_PERSON),
                receipt: None,
                kind: body.kind().to_owned(),
                body: body.encode()?,
            };
            draft.to_be_signed()?.sign(key)
        };
        let first = sign(&body, end, newest)?;
        let id = first.id();
        let more = self
            .with(public.vessel(), |ledger| then(ledger, id))
            .await?
            .map(|body| sign(&body, Some((first.seq(), id)), first.hlc()));
        let records: Vec<VerifiedRecord> = std::iter::once(Ok(first))
            .chain(more)
            .collect::<Result<_, _>>()?;
        let arrival = |record: &VerifiedRecord| Arrival {
            record: record.clone(),
            received_ms: now_ms,
            offset_ms: Some(0),
        };
        let arrivals = records.iter().map(arrival).collect();
        self.written(self.store.append(arrivals).await)?;
        on_record(now_ms);
        if let Some(ledger) = self.ledgers.write().await.get_mut(&public.vessel()) {
            ledger.take_up_verified(records.into_iter().map(|record| (record, Some(now_ms))));
        }
        self.settle(public.vessel()).await?;
        self.changed.send_modify(|count| *count += 1);
        Ok(id)
    }

    /// Takes a page of records of one vessel in: verifies each, stores what is good, sets aside what is not,
    /// and says what became of them. A bad record never blocks those behind it.
    ///
    /// # Errors
    /// [`FleetError`] if the page is too large or the store fails: then nothing of the page is stored.
    pub async fn push(
        self: &Arc<Self>,
        page: &[u8],
        of: VesselId,
        from: Option<DeviceId>,
        offset_ms: Option<i64>,
    ) -> Result<PushReply, FleetError> {
        self.push_at(page, of, from, offset_ms, now_ms()).await
    }

    /// Takes a page in that came at `received_ms`.
    pub(crate) async fn push_at(
        self: &Arc<Self>,
        page: &[u8],
        of: VesselId,
        from: Option<DeviceId>,
        offset_ms: Option<i64>,
        received_ms: i64,
    ) -> Result<PushReply, FleetError> {
        check_page(page)?;
        let mut judged = judge::judge(&self.ledgers, page).await;
        judged.keep_only(of);
        // A sender that hangs up must not come between the store and the ledger.
        let fleet = Arc::clone(self);
        let taking =
            tokio::spawn(async move { fleet.take_in(judged, from, offset_ms, received_ms).await });
        match taking.await {
            Ok(reply) => reply,
            Err(error) => std::panic::resume_unwind(error.into_panic()),
        }
    }

    async fn take_in(
        &self,
        judged: Judged,
        from: Option<DeviceId>,
        offset_ms: Option<i64>,
        received_ms: i64,
    ) -> Result<PushReply, FleetError> {
        let refused = judged.set_aside.into_iter().take(SET_ASIDE_AT_ONCE);
        let refused: Vec<_> = refused
            .map(|(bytes, vessel, reason)| {
                let refused = Quarantined {
                    bytes: bytes.into(),
                    reason,
                    received_ms,
                };
                (vessel, refused)
            })
            .collect();
        if !refused.is_empty() {
            self.written(self.store.quarantine(refused).await)?;
        }
        let mut reply = PushReply {
            rejected: judged.rejected,
            cut_at: judged.cut_at,
            server_time_ms: received_ms,
            ..PushReply::default()
        };
        let arrivals = judged.good.iter().map(|(_, record)| Arrival {
            record: record.clone(),
            received_ms,
            offset_ms,
        });
        let arrivals: Vec<Arrival> = arrivals.collect();
        let mut devices: BTreeSet<(VesselId, DeviceId)> = BTreeSet::new();
        let order = self.order.lock().await;
        let answers = self.written(self.store.append(arrivals).await)?;
        on_record(received_ms);
        let mut fresh: BTreeMap<VesselId, Vec<(VerifiedRecord, Option<i64>)>> = BTreeMap::new();
        for ((position, record), answer) in judged.good.into_iter().zip(answers) {
            let (vessel, device) = (record.vessel(), record.device());
            devices.insert((vessel, device));
            match answer {
                Appended::Stored => reply.stored += 1,
                Appended::AlreadyStored => {
                    reply.known += 1;
                    continue;
                }
                Appended::Fork { known } => reply.rejected.push(Rejected {
                    position,
                    id: Some(record.id()),
                    reason: format!(
                        "record {} of device {device} is here already with another content, {known}: \
                         both are kept, and the key is frozen",
                        record.seq(),
                    ),
                }),
            }
            let batch = fresh.entry(vessel).or_default();
            batch.push((record, Some(received_ms)));
        }
        let is_news = !fresh.is_empty();
        if is_news {
            let vessels: Vec<VesselId> = fresh.keys().copied().collect();
            {
                let mut ledgers = self.ledgers.write().await;
                for (vessel, batch) in fresh {
                    if let Some(ledger) = ledgers.get_mut(&vessel) {
                        ledger.take_up_verified(batch);
                    }
                }
            }
            for vessel in vessels {
                self.settle(vessel).await?;
            }
        }
        drop(order);
        for vessel in devices.iter().map(|(vessel, _)| *vessel) {
            self.catch_up(vessel).await?;
        }
        self.receipts(&mut reply, devices, from, received_ms)
            .await?;
        if is_news {
            self.changed.send_modify(|count| *count += 1);
        }
        Ok(reply)
    }

    /// Signs for what is on disk, and says how far each chain is here.
    async fn receipts(
        &self,
        reply: &mut PushReply,
        mut devices: BTreeSet<(VesselId, DeviceId)>,
        from: Option<DeviceId>,
        server_time_ms: i64,
    ) -> Result<(), FleetError> {
        if let (Some(from), Some(vessel)) = (from, self.own_vessel()) {
            devices.insert((vessel, from));
        }
        for (vessel, device) in devices {
            let Some((seq, head)) = self.store.chain_end(vessel, device).await? else {
                continue;
            };
            reply.vector.insert(device, seq);
            if let Some(key) = self
                .own
                .as_ref()
                .filter(|key| key.public().vessel() == vessel)
            {
                let receipt = Receipt {
                    vessel,
                    device,
                    seq,
                    head,
                    server_time_ms,
                };
                reply.receipts.push(receipt.sign(key).bytes().to_vec());
            }
        }
        Ok(())
    }
}

#[cfg(test)]
#[path = "../benches/year/vessel.rs"]
pub(crate) mod vessel;

#[cfg(test)]
mod tests;
