//! The fold: verified records in, the vessel's state out.
//!
//! A [`Ledger`] is a set of records and what follows from them. Receiving a record twice, late or out of
//! order changes nothing: everything here depends on the set alone, never on the order of arrival. A
//! record whose key is not known yet waits for its credential and is taken up when that comes.

use crate::body::{Body, BodyError, Person, PlanBody, ProcedureBody, VesselBody, kind};
use procedure::{
    Crew, DefectView, PastRun, Procedure, ProcedureHash, RunState, SecondWanted, Settings,
};
use record::{
    Credential, DeviceId, Envelope, Hlc, PersonId, PublicKey, RecordId, SignedCredential,
    VerifiedRecord, VesselId,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

mod aboard;
mod away;
mod chain;
mod fold;
mod gear;
mod kept;
mod loose;
mod ship;
mod standing;
mod take;

pub use chain::Chain;
pub use fold::Folds;
pub use kept::{EDITION, KeptRun};
pub use loose::KeptLoose;
pub use ship::{ProcedureEntry, SettingsEntry};

/// Names a run: the identity of the record that started it.
pub type RunId = RecordId;

/// What became of a record that was offered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Admitted {
    /// It is new and counts, or will once those before it in its chain are here.
    New(RecordId),
    /// It was there already.
    Known(RecordId),
    /// Its key is not known yet: it waits for the credential.
    Waiting(RecordId),
}

/// One record and what it says.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The record.
    pub record: VerifiedRecord,
    /// Its body, where this version can read it.
    pub body: Result<Body, BodyError>,
    /// When a server received it, in ms UTC by that server's clock; `None` where none has said so.
    pub received_ms: Option<i64>,
    /// A record before it in its chain is missing: it is kept and sent on, and counts for nothing until that comes.
    pub is_pending: bool,
}

/// A key and whose it is.
#[derive(Debug, Clone)]
pub struct Holder {
    /// The public key.
    pub key: PublicKey,
    /// The credential that ties it to a person.
    pub credential: Credential,
    /// The same, as the authority signed it.
    pub signed: SignedCredential,
    /// The record that carried the credential.
    pub record: RecordId,
}

/// One run: its records and the state they fold to.
#[derive(Debug, Clone)]
pub struct RunFile {
    /// The run's name.
    pub id: RunId,
    /// The procedure that the run pins.
    pub hash: ProcedureHash,
    /// The procedure, if its text is here.
    pub procedure: Option<Arc<Procedure>>,
    /// The records that are here, by identity: all, or of a run that is put away only what has come since.
    pub records: BTreeSet<RecordId>,
    /// The state, if the procedure is here and the run is not put away.
    pub state: Option<Arc<RunState>>,
    /// The run as other runs need to know it, judged by its own records alone.
    pub past: Option<PastRun>,
    /// The defects that were raised in it.
    pub defects: Vec<DefectView>,
    /// What was gone past in it and wants a second's signature still.
    pub seconds: Vec<SecondWanted>,
    /// When its newest record was made, ms UTC by its device's clock.
    pub newest_ms: i64,
    /// When it was closed, judged with what the other runs say, ms UTC.
    pub closed_ms: Option<i64>,
    /// What can bear on it, once it has been folded.
    bears: Arc<Bears>,
    /// How many of its records are put away; none while it is here.
    away: Option<usize>,
    /// Its number among the runs that were ever put away.
    number: Option<u32>,
    /// Counts what may change its state, so that a fold of an earlier moment is known for one.
    version: u64,
}

impl RunFile {
    /// Returns `true` if people are in a space, or the work was stopped.
    pub fn is_pressing(&self) -> bool {
        self.state.as_ref().is_some_and(|state| state.is_pressing())
    }

    /// Returns `true` if its records are put away, so that only what others need to know of it is here.
    pub fn is_away(&self) -> bool {
        self.away.is_some()
    }

    /// Returns how many records it has, put away or not.
    pub fn size(&self) -> usize {
        self.away.unwrap_or(0) + self.records.len()
    }
}

/// What of a run others can bear on: by it is known what need not be folded again.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
struct Bears {
    /// The latest moment at which anything in it is judged.
    latest: Hlc,
    /// Whose word by radio it holds.
    heard: BTreeSet<procedure::PersonId>,
    /// The last number of each key in it.
    last_seqs: BTreeMap<DeviceId, u64>,
}

/// A plan as the ledger shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanEntry {
    /// The record that carried it.
    pub id: RecordId,
    /// Who signed it.
    pub author: String,
    /// When, by the signer's clock, in ms UTC.
    pub time_ms: i64,
    /// The plan.
    pub plan: PlanBody,
}

/// What a credential said of a key.
#[derive(Debug, Clone)]
struct Said {
    person: PersonId,
    roles: procedure::Roles,
    /// When the person joins, where the credential was signed before that.
    joins_s: Option<i64>,
    expires_s: i64,
}

/// Whose a key was and with which roles, by the stamp of the credential that said so.
type RolesInTime = BTreeMap<(Hlc, RecordId), Said>;

/// Everything that is known of one vessel.
#[derive(Debug, Clone)]
pub struct Ledger {
    vessel: VesselId,
    authority: PublicKey,
    entries: BTreeMap<RecordId, Entry>,
    /// For each record that is missing or pending, those that name it as the one before them.
    followers: BTreeMap<RecordId, BTreeSet<RecordId>>,
    /// The records that count, by key and number.
    chains: BTreeMap<DeviceId, Chain>,
    forks: BTreeSet<(DeviceId, u64)>,
    holders: BTreeMap<DeviceId, Holder>,
    /// Every credential of each key, oldest first: a key's roles may change, and a record keeps those
    /// that its key had when it was made.
    roles: BTreeMap<DeviceId, RolesInTime>,
    /// From which number on a key is judged by which credential, whatever time its records bear.
    role_changes: BTreeMap<DeviceId, BTreeSet<(u64, RecordId)>>,
    withdrawn: BTreeMap<DeviceId, record::Withdrawal>,
    /// By identity and signature: a copy whose signature does not fit has the identity of the true one.
    waiting: BTreeMap<(RecordId, [u8; 64]), (Envelope, Option<i64>)>,
    runs: BTreeMap<RunId, RunFile>,
    orphans: BTreeMap<RunId, BTreeSet<RecordId>>,
    procedures: BTreeMap<ProcedureHash, Arc<Procedure>>,
    /// The library that ships with the program, in its order.
    library: Vec<Arc<Procedure>>,
    /// The procedures whose text a record carries.
    texts: BTreeSet<ProcedureHash>,
    /// What was offered as published, by short name and stamp; only a master's counts.
    published: BTreeMap<String, BTreeMap<(Hlc, RecordId), ProcedureHash>>,
    vessel_body: Option<(Hlc, RecordId, VesselBody)>,
    /// Every crew list: what was heard by radio is judged by the list of its time.
    crew_lists: BTreeMap<(Hlc, RecordId), Vec<Person>>,
    /// What those and the credentials come to; empty until somebody asks.
    crew: OnceLock<Arc<Crew>>,
    settings: BTreeMap<(Hlc, RecordId), Settings>,
    plans: BTreeMap<(Hlc, RecordId), PlanEntry>,
    /// What was said of the anchor watch.
    watch: BTreeSet<(Hlc, RecordId)>,
    gear: gear::Gear,
    /// The photographs that records name.
    photos: BTreeSet<[u8; 32]>,
    /// The same, in the order in which records named them here.
    photo_order: Vec<[u8; 32]>,
    /// When those were made, by their stamps.
    stamps: chain::Stamps,
    dirty: BTreeSet<RunId>,
    /// For each key, the highest number below which nothing is missing.
    heights: record::Vector,
    /// The runs of each procedure.
    runs_of: BTreeMap<ProcedureHash, BTreeSet<RunId>>,
    /// The runs that are not closed, as far as their own records say.
    open: BTreeSet<RunId>,
    /// The runs in which a defect was raised that is still open.
    defective: BTreeSet<RunId>,
    /// The records of runs that are put away.
    away: BTreeMap<RecordId, away::Brief>,
    /// The runs that were ever put away, and the keys whose records were, by their numbers there.
    away_runs: Vec<RunId>,
    away_devices: Vec<DeviceId>,
    /// The runs that are put away and have to be folded again.
    wanted: BTreeSet<RunId>,
    /// The settings that count, oldest first, as far as that is worked out.
    settings_counted: Vec<(Hlc, RecordId)>,
    /// Whether that has to be worked out again.
    is_settings_stale: bool,
    /// How many records a server received at each moment.
    arrivals: BTreeMap<i64, u32>,
}

impl Ledger {
    /// Makes an empty ledger of the vessel whose authority holds `authority`.
    pub fn new(authority: PublicKey) -> Self {
        let library: Vec<Arc<Procedure>> = procedure::library::all()
            .into_iter()
            .map(Arc::new)
            .collect();
        let procedures = library
            .iter()
            .map(|procedure| (procedure.hash(), Arc::clone(procedure)))
            .collect();
        Self {
            vessel: authority.vessel(),
            authority,
            entries: BTreeMap::new(),
            followers: BTreeMap::new(),
            chains: BTreeMap::new(),
            forks: BTreeSet::new(),
            holders: BTreeMap::new(),
            roles: BTreeMap::new(),
            role_changes: BTreeMap::new(),
            withdrawn: BTreeMap::new(),
            waiting: BTreeMap::new(),
            runs: BTreeMap::new(),
            orphans: BTreeMap::new(),
            procedures,
            library,
            texts: BTreeSet::new(),
            published: BTreeMap::new(),
            vessel_body: None,
            crew_lists: BTreeMap::new(),
            crew: OnceLock::new(),
            settings: BTreeMap::new(),
            plans: BTreeMap::new(),
            watch: BTreeSet::new(),
            gear: gear::Gear::default(),
            photos: BTreeSet::new(),
            photo_order: Vec::new(),
            stamps: chain::Stamps::default(),
            dirty: BTreeSet::new(),
            heights: record::Vector::new(),
            runs_of: BTreeMap::new(),
            open: BTreeSet::new(),
            defective: BTreeSet::new(),
            away: BTreeMap::new(),
            away_runs: Vec::new(),
            away_devices: Vec::new(),
            wanted: BTreeSet::new(),
            settings_counted: Vec::new(),
            is_settings_stale: false,
            arrivals: BTreeMap::new(),
        }
    }

    /// Returns whose ledger it is.
    pub fn vessel(&self) -> VesselId {
        self.vessel
    }

    /// Returns the vessel's authority key.
    pub fn authority(&self) -> PublicKey {
        self.authority
    }

    /// Returns the key of `device`: the authority's own, or one that a credential vouches for.
    pub fn key_of(&self, device: DeviceId) -> Option<PublicKey> {
        if device == self.authority.device() {
            return Some(self.authority);
        }
        self.holders.get(&device).map(|holder| holder.key)
    }

    /// Returns every key and whose it is.
    pub fn holders(&self) -> &BTreeMap<DeviceId, Holder> {
        &self.holders
    }

    /// Returns the withdrawal of a key, if it was withdrawn.
    pub fn withdrawal(&self, device: DeviceId) -> Option<&record::Withdrawal> {
        self.withdrawn.get(&device)
    }

    /// Returns the particulars and the crew, once the vessel's record is here.
    pub fn particulars(&self) -> Option<&VesselBody> {
        self.vessel_body.as_ref().map(|(_, _, body)| body)
    }

    /// Returns a person's name, or their id where the crew list does not have them.
    pub fn name_of<'a>(&'a self, person: &'a str) -> &'a str {
        self.particulars()
            .and_then(|body| body.crew.iter().find(|member| member.id == person))
            .map_or(person, |member| &member.name)
    }

    /// Returns the runs, oldest first by name.
    pub fn runs(&self) -> &BTreeMap<RunId, RunFile> {
        &self.runs
    }

    /// Returns one run.
    pub fn run(&self, id: RunId) -> Option<&RunFile> {
        self.runs.get(&id)
    }

    /// Returns the records about the anchor watch, oldest first.
    pub fn watch_records(&self) -> impl Iterator<Item = RecordId> {
        self.watch.iter().map(|(_, id)| *id)
    }

    /// Returns the plans, oldest first.
    pub fn plans(&self) -> impl DoubleEndedIterator<Item = &PlanEntry> {
        self.plans.values()
    }

    /// Returns `true` if a record names the photograph with that SHA-256.
    pub fn names_photo(&self, hash: &[u8; 32]) -> bool {
        self.photos.contains(hash)
    }

    /// Returns the SHA-256 of every photograph that a record names, the first named first.
    pub fn photos(&self) -> &[[u8; 32]] {
        &self.photo_order
    }

    /// Returns one record that is here: of a run that is put away there is none.
    pub fn entry(&self, id: RecordId) -> Option<&Entry> {
        self.entries.get(&id)
    }

    /// Returns the records that are here, by identity; those of runs that are put away are not.
    pub fn entries(&self) -> impl Iterator<Item = &Entry> {
        self.entries.values()
    }

    /// Returns how many records count.
    pub fn len(&self) -> usize {
        self.entries.len() + self.away.len()
    }

    /// Returns `true` if there is no record.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Returns the moments at which a server received records, ms UTC, earliest first.
    pub fn arrivals(&self) -> impl DoubleEndedIterator<Item = i64> {
        self.arrivals.keys().copied()
    }

    /// Returns the moments from `from_ms` on and before `until_ms` at which a server received records.
    pub fn arrivals_between(&self, from_ms: i64, until_ms: i64) -> impl Iterator<Item = i64> {
        let range = (from_ms < until_ms).then(|| self.arrivals.range(from_ms..until_ms));
        range.into_iter().flatten().map(|(at_ms, _)| *at_ms)
    }

    /// Returns how many records of each key wait for one before them in their chain.
    pub fn pending(&self) -> BTreeMap<DeviceId, u64> {
        let mut pending = BTreeMap::new();
        for entry in self.entries.values().filter(|entry| entry.is_pending) {
            *pending.entry(entry.record.device()).or_default() += 1;
        }
        pending
    }

    /// Returns how many records wait for a credential.
    pub fn waiting(&self) -> usize {
        self.waiting.len()
    }

    /// Returns the sequence numbers that two different records of one key claim.
    pub fn forks(&self) -> &BTreeSet<(DeviceId, u64)> {
        &self.forks
    }

    /// Returns the records of each key that count, by sequence number.
    pub fn chains(&self) -> &BTreeMap<DeviceId, Chain> {
        &self.chains
    }

    /// Returns the highest sequence number of each key below which nothing is missing.
    pub fn vector(&self) -> record::Vector {
        self.heights.clone()
    }

    /// Returns the highest sequence number of `device` below which nothing is missing; 0 if it has none.
    pub fn height_of(&self, device: DeviceId) -> u64 {
        self.heights.get(&device).copied().unwrap_or(0)
    }

    /// Returns the runs that are not closed, as far as their own records say.
    pub fn open_runs(&self) -> impl Iterator<Item = &RunFile> {
        self.open.iter().filter_map(|run| self.runs.get(run))
    }

    /// Returns the procedure of that identity, from the library, the ship's copies or a run's pin.
    pub fn procedure(&self, hash: ProcedureHash) -> Option<&Arc<Procedure>> {
        self.procedures.get(&hash)
    }

    /// Returns the procedures that ship with the program, in their order.
    pub fn library(&self) -> &[Arc<Procedure>] {
        &self.library
    }

    /// Returns the library's text of `slug`, as a record carries it.
    pub fn text_of(&self, slug: &str) -> Option<ProcedureBody> {
        procedure::library::texts()
            .iter()
            .find(|(file, text)| procedure::parse(file, text).is_ok_and(|p| p.slug() == slug))
            .map(|(file, text)| ProcedureBody {
                file: (*file).to_owned(),
                text: (*text).to_owned(),
                published: false,
            })
    }

    /// Returns `true` if a record carries the text of the procedure `hash`.
    pub fn has_text_of(&self, hash: ProcedureHash) -> bool {
        self.texts.contains(&hash)
    }

    /// Returns the newest records of other devices in `run`: what the next record of `device` has seen.
    pub fn heads(&self, run: Option<RunId>, device: DeviceId) -> Vec<RecordId> {
        let Some(file) = run.and_then(|run| self.runs.get(&run)) else {
            return Vec::new();
        };
        let mut newest: BTreeMap<DeviceId, (u64, RecordId)> = BTreeMap::new();
        for id in &file.records {
            let record = &self.entries[id].record;
            if record.device() == device {
                continue;
            }
            let slot = newest.entry(record.device()).or_insert((record.seq(), *id));
            if record.seq() > slot.0 {
                *slot = (record.seq(), *id);
            }
        }
        let mut heads: Vec<RecordId> = newest.into_values().map(|(_, id)| id).collect();
        heads.sort_unstable();
        heads
    }
}

/// Returns `true` for the kinds that every reader of a vessel needs, whatever run they look at.
pub fn is_standing(record_kind: &str) -> bool {
    matches!(
        record_kind,
        kind::VESSEL
            | kind::CREDENTIAL
            | kind::ROLES_FROM
            | kind::WITHDRAWAL
            | kind::SETTINGS
            | kind::GEAR
            | kind::GEAR_KIND
            | kind::PROCEDURE
    )
}
