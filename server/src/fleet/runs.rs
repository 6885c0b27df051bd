//! Which runs are in memory: those under way, those closed last and those looked at last. Of the others the ledger
//! keeps what it must, and the store a row beside their records by which a start need not fold them again.

pub(super) mod back;

use super::{Fleet, FleetError};
use back::{CheckedBy, aside};
use hmac::{Hmac, KeyInit as _, Mac as _};
use journal::ledger::KeptRun;
use journal::{Ledger, RunId, board};
use record::{SoftKey, VesselId};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use storage::{KeptMark, KeptRow};

/// How many runs that somebody has looked at stay in memory.
const LOOKED_AT: usize = 64;
/// How many records these runs may have together: a page of one run takes what that run has, however long it is.
const LOOKED_AT_RECORDS: usize = 1_000;
/// How many runs are taken back from the store at once.
const AT_ONCE: usize = 32;
/// How often a page is tried whose runs others have put away meanwhile.
const TRIES: usize = 5;
/// What the ship's key signs so that nobody else can seal a row.
const PURPOSE: &[u8] = b"clearhawse, the seal of what is kept of runs, 1";

/// A run that somebody has looked at.
#[derive(Debug, Clone, Copy)]
struct LookedAt {
    vessel: VesselId,
    run: RunId,
    records: usize,
}

/// What is remembered of a vessel's rows in the store.
#[derive(Debug, Default)]
pub(super) struct Rows {
    /// Names the records by which every run is judged, as the rows have it.
    pub standing: [u8; 32],
    /// The digest of each row's body.
    pub digests: BTreeMap<RunId, [u8; 32]>,
}

/// What seals the rows: nobody who has the store alone can make one. An office without a key has none.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seal(Option<[u8; 64]>);

impl Seal {
    /// Seals a row: that it is of this run, made by this server, and judged by these records.
    pub(super) fn of(
        self,
        vessel: VesselId,
        run: RunId,
        standing: &[u8; 32],
        digest: &[u8; 32],
    ) -> [u8; 32] {
        let secret = self.0.unwrap_or([0; 64]);
        let mut seal = Hmac::<Sha256>::new_from_slice(&secret)
            .expect("invariant: a key of any length will do");
        seal.update(vessel.as_bytes());
        seal.update(run.as_bytes());
        seal.update(standing);
        seal.update(digest);
        seal.finalize().into_bytes().into()
    }
}

/// Which runs are in memory, and what the store keeps of the others.
#[derive(Debug)]
pub(super) struct Runs {
    seal: Seal,
    looked_at: Mutex<VecDeque<LookedAt>>,
    rows: Mutex<BTreeMap<VesselId, Rows>>,
}

impl Runs {
    pub(super) fn new(own: Option<&SoftKey>) -> Self {
        Self {
            seal: Seal(own.map(|key| key.sign(PURPOSE))),
            looked_at: Mutex::default(),
            rows: Mutex::default(),
        }
    }

    /// Says by what records that come back are judged: where anybody could have sealed a row, an id in it says nothing.
    fn checked_by(&self) -> CheckedBy {
        match self.seal.0 {
            Some(_) => CheckedBy::Id,
            None => CheckedBy::Signature,
        }
    }

    fn looked_at(&self) -> MutexGuard<'_, VecDeque<LookedAt>> {
        self.looked_at
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
    }

    pub(super) fn rows(&self) -> MutexGuard<'_, BTreeMap<VesselId, Rows>> {
        self.rows.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Notes the runs that a page is drawn of, each with how many records it has. They stay until others are looked
    /// at; of those before them as many as there is room for.
    fn note_looked_at(&self, vessel: VesselId, runs: &[(RunId, usize)]) {
        let mut looked_at = self.looked_at();
        looked_at.retain(|known| {
            !(known.vessel == vessel && runs.iter().any(|(run, _)| *run == known.run))
        });
        let mut earlier = looked_at.len();
        looked_at.extend(runs.iter().map(|(run, records)| LookedAt {
            vessel,
            run: *run,
            records: *records,
        }));
        let extra = looked_at.len().saturating_sub(LOOKED_AT);
        looked_at.drain(..extra);
        earlier = earlier.saturating_sub(extra);
        let mut together: usize = looked_at.iter().map(|known| known.records).sum();
        while earlier > 0 && together > LOOKED_AT_RECORDS {
            together -= looked_at.pop_front().map_or(0, |known| known.records);
            earlier -= 1;
        }
    }

    /// Returns what seals the rows.
    pub(super) fn seal(&self) -> Seal {
        self.seal
    }

    /// Makes the row of a run and remembers that it is written.
    fn row(&self, vessel: VesselId, standing: [u8; 32], kept: &KeptRun) -> KeptRow {
        let body: Arc<[u8]> = kept.encode().into();
        let digest: [u8; 32] = Sha256::digest(&body).into();
        let mark = KeptMark {
            run: kept.run(),
            standing,
            seal: self.seal.of(vessel, kept.run(), &standing, &digest),
        };
        KeptRow { mark, body }
    }

    /// Makes the rows of these runs, but for those that the store has.
    pub(super) fn rows_of(
        &self,
        vessel: VesselId,
        standing: [u8; 32],
        kept: &[KeptRun],
    ) -> Vec<KeptRow> {
        let mut rows = self.rows();
        let known = rows.entry(vessel).or_default();
        let made = kept.iter().map(|kept| self.row(vessel, standing, kept));
        let is_new = |row: &KeptRow| {
            let digest: [u8; 32] = Sha256::digest(&row.body).into();
            known.digests.insert(row.mark.run, digest) != Some(digest)
        };
        made.filter(is_new).collect()
    }

    /// Marks the rows anew of the runs that are put away, once they have been judged by other records.
    fn marks(&self, vessel: VesselId, standing: [u8; 32], away: &BTreeSet<RunId>) -> Vec<KeptMark> {
        let mut rows = self.rows();
        let known = rows.entry(vessel).or_default();
        if known.standing == standing {
            return Vec::new();
        }
        known.standing = standing;
        // Of a run that is here the row may say what is so no more: it is made when that is put away.
        known.digests.retain(|run, _| away.contains(run));
        let marked = known.digests.iter().map(|(run, digest)| KeptMark {
            run: *run,
            standing,
            seal: self.seal.of(vessel, *run, &standing, digest),
        });
        marked.collect()
    }
}

/// How much is held in memory.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Held {
    /// Records.
    pub records: usize,
    /// Runs with their records.
    pub runs: usize,
    /// Runs that are put away.
    pub away: usize,
    /// Runs that stay because somebody looked at them.
    pub looked_at: usize,
}

/// Names the records by which every run of a vessel is judged.
pub(super) fn standing(ids: impl IntoIterator<Item = record::RecordId>) -> [u8; 32] {
    let ids: BTreeSet<record::RecordId> = ids.into_iter().collect();
    let mut hash = Sha256::new();
    for id in ids {
        hash.update(id.as_bytes());
    }
    hash.finalize().into()
}

fn standing_of(ledger: &Ledger) -> [u8; 32] {
    let records = ledger.entries().map(|entry| &entry.record);
    let standing_ones = records.filter(|record| journal::ledger::is_standing(record.kind()));
    standing(standing_ones.map(|record| record.id()))
}

impl Fleet {
    /// Does something with a vessel's ledger when the runs that `which` names are in memory.
    ///
    /// # Errors
    /// [`FleetError`] if there is no such vessel, or the store fails.
    pub async fn with_runs<T>(
        &self,
        vessel: VesselId,
        which: impl Fn(&Ledger) -> Vec<RunId>,
        mut work: impl FnMut(&Ledger) -> T,
    ) -> Result<T, FleetError> {
        for _ in 0..TRIES {
            let wanted = {
                let ledgers = self.ledgers.read().await;
                let ledger = ledgers.get(&vessel).ok_or(FleetError::NoVessel(vessel))?;
                let mut wanted = which(ledger);
                let sizes = wanted.iter().map(|run| {
                    let size = ledger.run(*run).map_or(0, journal::ledger::RunFile::size);
                    (*run, size)
                });
                self.runs.note_looked_at(vessel, &sizes.collect::<Vec<_>>());
                wanted.retain(|run| {
                    ledger
                        .run(*run)
                        .is_some_and(journal::ledger::RunFile::is_away)
                });
                if wanted.is_empty() {
                    return Ok(work(ledger));
                }
                wanted
            };
            self.take_back(vessel, &wanted, self.runs.checked_by())
                .await?;
            self.put_away(vessel).await?;
        }
        self.with(vessel, work).await
    }

    /// Makes a run's page.
    ///
    /// # Errors
    /// As [`Fleet::with_runs`].
    pub async fn run_page(
        &self,
        vessel: VesselId,
        run: RunId,
        most: usize,
        now_ms: i64,
    ) -> Result<Option<board::RunPage>, FleetError> {
        let page = |ledger: &Ledger| match most {
            board::RECORDS_SHOWN => board::run_page(ledger, run, now_ms),
            _ => board::whole_run_page(ledger, run, now_ms, most),
        };
        self.with_runs(vessel, |_| vec![run], page).await
    }

    /// Makes a vessel's page: of her newest runs, or of those before one of them.
    ///
    /// # Errors
    /// As [`Fleet::with_runs`].
    pub async fn vessel_page(
        &self,
        vessel: VesselId,
        before: Option<RunId>,
        now_ms: i64,
    ) -> Result<board::VesselPage, FleetError> {
        let wanted = |ledger: &Ledger| board::wanted_for_vessel(ledger, before);
        let page = |ledger: &Ledger| board::vessel_page_before(ledger, before, now_ms);
        self.with_runs(vessel, wanted, page).await
    }

    /// Folds what has changed while others read, takes back from the store what that bears on, and puts away what
    /// nobody works any more.
    pub(super) async fn settle(&self, vessel: VesselId) -> Result<(), FleetError> {
        let mut failed: BTreeSet<RunId> = BTreeSet::new();
        loop {
            self.fold(vessel).await;
            let (is_unsettled, wanted) = self
                .with(vessel, |ledger| {
                    let wanted = ledger.wanted().filter(|run| !failed.contains(run));
                    let wanted: Vec<RunId> = wanted.take(AT_ONCE).collect();
                    (ledger.is_unsettled(), wanted)
                })
                .await?;
            if !wanted.is_empty() {
                let by = self.runs.checked_by();
                failed.extend(self.take_back(vessel, &wanted, by).await?);
                self.put_away(vessel).await?;
            } else if !is_unsettled {
                break;
            }
        }
        self.put_away(vessel).await
    }

    /// Folds what has changed; who reads goes on meanwhile.
    async fn fold(&self, vessel: VesselId) {
        let ledgers = Arc::clone(&self.ledgers).read_owned().await;
        let folding = move || ledgers.get(&vessel).map(Ledger::fold_changed);
        let folds = aside(folding).await;
        if let Some(folds) = folds.filter(|folds| !folds.is_empty())
            && let Some(ledger) = self.ledgers.write().await.get_mut(&vessel)
        {
            ledger.settle(folds);
        }
    }

    /// Folds every run that is put away again from its records, a few at a time while the server serves, and makes
    /// anew what was kept of one that comes to something else. Returns how many did.
    ///
    /// # Errors
    /// [`FleetError`] if the store fails.
    pub async fn recheck(&self, pause: Duration) -> Result<usize, FleetError> {
        let mut mended = 0;
        for vessel in self.each(Ledger::vessel).await {
            let away = |ledger: &Ledger| {
                let away = ledger.runs().values().filter(|file| file.is_away());
                away.map(|file| file.id).collect::<Vec<RunId>>()
            };
            let away = self.with(vessel, away).await?;
            for runs in away.chunks(AT_ONCE) {
                let digest = |run: &RunId| {
                    let rows = self.runs.rows();
                    let known = rows.get(&vessel)?.digests.get(run).copied()?;
                    Some((*run, known))
                };
                let before: BTreeMap<RunId, [u8; 32]> = runs.iter().filter_map(digest).collect();
                {
                    let _order = self.order.lock().await;
                    self.take_back(vessel, runs, CheckedBy::Signature).await?;
                    self.settle(vessel).await?;
                }
                for (run, before) in before {
                    if digest(&run).is_some_and(|(_, now)| now != before) {
                        mended += 1;
                        tracing::error!(%vessel, %run, "what was kept of a run did not follow from its records");
                    }
                }
                tokio::time::sleep(pause).await;
            }
        }
        Ok(mended)
    }

    /// Returns how much is held in memory: records, runs with their records, runs that are put away, and those that
    /// stay because somebody looked at them.
    pub async fn held(&self) -> Held {
        let mut held = Held {
            looked_at: self.runs.looked_at().len(),
            ..Held::default()
        };
        for (records, here, away) in self
            .each(|ledger| {
                let away = ledger.runs().values().filter(|file| file.is_away()).count();
                let records = ledger.entries().count();
                (records, ledger.runs().len() - away, away)
            })
            .await
        {
            held.records += records;
            held.runs += here;
            held.away += away;
        }
        held
    }

    /// Puts away the closed runs that nobody looks at.
    async fn put_away(&self, vessel: VesselId) -> Result<(), FleetError> {
        loop {
            let (standing, kept, away) = self
                .with(vessel, |ledger| {
                    let looked_at = self.runs.looked_at();
                    let looked_at = looked_at.iter().filter(|known| known.vessel == vessel);
                    let looked_at: BTreeSet<RunId> = looked_at.map(|known| known.run).collect();
                    let runs = ledger.may_be_put_away(board::CLOSED_SHOWN).into_iter();
                    let runs = runs.filter(|run| !looked_at.contains(run));
                    let kept = runs.take(AT_ONCE).filter_map(|run| ledger.kept(run));
                    let kept: Vec<KeptRun> = kept.collect();
                    let standing = standing_of(ledger);
                    let is_old = self
                        .runs
                        .rows()
                        .get(&vessel)
                        .is_some_and(|rows| rows.standing != standing);
                    let away = is_old.then(|| {
                        let files = ledger.runs().values().filter(|file| file.is_away());
                        files.map(|file| file.id).collect::<BTreeSet<RunId>>()
                    });
                    (standing, kept, away)
                })
                .await?;
            let marks = away.map_or_else(Vec::new, |away| self.runs.marks(vessel, standing, &away));
            let rows = self.runs.rows_of(vessel, standing, &kept);
            if !(rows.is_empty() && marks.is_empty())
                && let Err(error) = self.store.keep_runs(vessel, rows, marks).await
            {
                // Nothing is lost by it: what has no row is folded again at the next start.
                tracing::warn!(%vessel, %error, "what the runs come to is not kept");
                self.runs.rows().remove(&vessel);
            }
            if kept.is_empty() {
                return Ok(());
            }
            if let Some(ledger) = self.ledgers.write().await.get_mut(&vessel) {
                for kept in &kept {
                    ledger.put_away(kept);
                }
            }
        }
    }
}
