//! The fold: verified records in, the vessel's state out.
//!
//! A [`Ledger`] is a set of records and what follows from them. Receiving a record twice, late or out of
//! order changes nothing: everything here depends on the set alone, never on the order of arrival. A
//! record whose key is not known yet waits for its credential and is taken up when that comes.

use crate::body::{Body, BodyError, PlanBody, ProcedureBody, VesselBody, kind, roles_from_words};
use procedure::{Procedure, ProcedureHash, RunState, Settings, Stamped};
use record::{
    Credential, DeviceId, Envelope, Hlc, PublicKey, RecordId, Refusal, SignedCredential,
    VerifiedRecord, VesselId,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Names a run: the identity of the record that started it.
pub type RunId = RecordId;

/// What became of a record that was offered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Admitted {
    /// It is new and counts.
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
    /// The records, by identity.
    pub records: BTreeSet<RecordId>,
    /// The state, if the procedure is here.
    pub state: Option<Arc<RunState>>,
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

/// Everything that is known of one vessel.
#[derive(Debug, Clone)]
pub struct Ledger {
    vessel: VesselId,
    authority: PublicKey,
    entries: BTreeMap<RecordId, Entry>,
    chains: BTreeMap<DeviceId, BTreeMap<u64, RecordId>>,
    forks: BTreeSet<(DeviceId, u64)>,
    holders: BTreeMap<DeviceId, Holder>,
    withdrawn: BTreeMap<DeviceId, record::Withdrawal>,
    waiting: BTreeMap<RecordId, (Envelope, Option<i64>)>,
    runs: BTreeMap<RunId, RunFile>,
    orphans: BTreeMap<RunId, BTreeSet<RecordId>>,
    procedures: BTreeMap<ProcedureHash, Arc<Procedure>>,
    published: BTreeMap<String, (Hlc, RecordId, ProcedureHash)>,
    vessel_body: Option<(Hlc, RecordId, VesselBody)>,
    settings: BTreeMap<(Hlc, RecordId), Settings>,
    plans: BTreeMap<(Hlc, RecordId), PlanEntry>,
    stamps: BTreeSet<Hlc>,
    dirty: BTreeSet<RunId>,
}

impl Ledger {
    /// Makes an empty ledger of the vessel whose authority holds `authority`.
    pub fn new(authority: PublicKey) -> Self {
        let procedures = procedure::library::all()
            .into_iter()
            .map(|procedure| (procedure.hash(), Arc::new(procedure)))
            .collect();
        Self {
            vessel: authority.vessel(),
            authority,
            entries: BTreeMap::new(),
            chains: BTreeMap::new(),
            forks: BTreeSet::new(),
            holders: BTreeMap::new(),
            withdrawn: BTreeMap::new(),
            waiting: BTreeMap::new(),
            runs: BTreeMap::new(),
            orphans: BTreeMap::new(),
            procedures,
            published: BTreeMap::new(),
            vessel_body: None,
            settings: BTreeMap::new(),
            plans: BTreeMap::new(),
            stamps: BTreeSet::new(),
            dirty: BTreeSet::new(),
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

    /// Returns the newest stamp seen, which the next record's must exceed; stamps that are more than a
    /// day ahead of `now_ms` come from a clock that is far off and are not followed.
    pub fn newest(&self, now_ms: i64) -> Hlc {
        let now = u64::try_from(now_ms).unwrap_or(0);
        let bound = Hlc {
            ms: now.saturating_add(record::MAX_LEAD_MS),
            ctr: u32::MAX,
        };
        self.stamps
            .range(..=bound)
            .next_back()
            .copied()
            .unwrap_or_default()
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

    /// Returns the settings in force now.
    pub fn settings(&self) -> Settings {
        self.settings
            .values()
            .next_back()
            .cloned()
            .unwrap_or_else(Settings::defaults)
    }

    /// Returns the runs, oldest first by name.
    pub fn runs(&self) -> &BTreeMap<RunId, RunFile> {
        &self.runs
    }

    /// Returns one run.
    pub fn run(&self, id: RunId) -> Option<&RunFile> {
        self.runs.get(&id)
    }

    /// Returns the plans, oldest first.
    pub fn plans(&self) -> impl DoubleEndedIterator<Item = &PlanEntry> {
        self.plans.values()
    }

    /// Returns one record.
    pub fn entry(&self, id: RecordId) -> Option<&Entry> {
        self.entries.get(&id)
    }

    /// Returns all records, by identity.
    pub fn entries(&self) -> impl Iterator<Item = &Entry> {
        self.entries.values()
    }

    /// Returns how many records count.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Returns `true` if no record is here.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// Returns how many records wait for a credential.
    pub fn waiting(&self) -> usize {
        self.waiting.len()
    }

    /// Returns the sequence numbers that two different records of one key claim.
    pub fn forks(&self) -> &BTreeSet<(DeviceId, u64)> {
        &self.forks
    }

    /// Returns the records of each key, by sequence number.
    pub fn chains(&self) -> &BTreeMap<DeviceId, BTreeMap<u64, RecordId>> {
        &self.chains
    }

    /// Returns the highest sequence number of each key below which nothing is missing.
    pub fn vector(&self) -> record::Vector {
        let mut vector = record::Vector::new();
        for (device, chain) in &self.chains {
            let mut height = 0;
            for seq in chain.keys() {
                if *seq != height + 1 {
                    break;
                }
                height = *seq;
            }
            if height > 0 {
                vector.insert(*device, height);
            }
        }
        vector
    }

    /// Returns the procedure of that identity, from the library, the ship's copies or a run's pin.
    pub fn procedure(&self, hash: ProcedureHash) -> Option<&Arc<Procedure>> {
        self.procedures.get(&hash)
    }

    /// Returns the procedure that a new run of `slug` takes: the ship's published copy, or the library's.
    pub fn current(&self, slug: &str) -> Option<&Arc<Procedure>> {
        if let Some((_, _, hash)) = self.published.get(slug) {
            return self.procedures.get(hash);
        }
        let library = procedure::library::all();
        let hash = library
            .iter()
            .find(|procedure| procedure.slug() == slug)?
            .hash();
        self.procedures.get(&hash)
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
        self.entries.values().any(|entry| match &entry.body {
            Ok(Body::Procedure(body)) => {
                procedure::parse(&body.file, &body.text).is_ok_and(|p| p.hash() == hash)
            }
            _ => false,
        })
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

    /// Takes up a record, whatever the order it comes in.
    ///
    /// # Errors
    /// [`Refusal`] if it is not of this vessel or its signature does not verify.
    pub fn admit(&mut self, envelope: Envelope) -> Result<Admitted, Refusal> {
        self.admit_received(envelope, None)
    }

    /// Takes up many records, folding each run once at the end; says what became of each.
    pub fn admit_all(
        &mut self,
        envelopes: impl IntoIterator<Item = (Envelope, Option<i64>)>,
    ) -> Vec<Result<Admitted, Refusal>> {
        let answers = envelopes
            .into_iter()
            .map(|(envelope, received_ms)| self.take_up(envelope, received_ms))
            .collect();
        self.settle();
        answers
    }

    /// Takes up a record that a server received at `received_ms`.
    ///
    /// # Errors
    /// As [`Ledger::admit`].
    pub fn admit_received(
        &mut self,
        envelope: Envelope,
        received_ms: Option<i64>,
    ) -> Result<Admitted, Refusal> {
        let answer = self.take_up(envelope, received_ms);
        self.settle();
        answer
    }

    fn take_up(
        &mut self,
        envelope: Envelope,
        received_ms: Option<i64>,
    ) -> Result<Admitted, Refusal> {
        let id = envelope.id();
        if envelope.vessel() != self.vessel {
            return Err(Refusal::OtherVessel {
                device: envelope.device(),
                seq: envelope.seq(),
                vessel: self.vessel,
                found: envelope.vessel(),
            });
        }
        if let Some(entry) = self.entries.get_mut(&id) {
            entry.received_ms = earlier(entry.received_ms, received_ms);
            return Ok(Admitted::Known(id));
        }
        let Some(key) = self.key_of(envelope.device()) else {
            let slot = self.waiting.entry(id).or_insert((envelope, None));
            slot.1 = earlier(slot.1, received_ms);
            return Ok(Admitted::Waiting(id));
        };
        let record = envelope.verify(&key)?;
        self.enter(record, received_ms);
        self.wake();
        Ok(Admitted::New(id))
    }

    /// Takes up a record that has been verified already, as one that this device just signed.
    pub fn admit_verified(&mut self, record: VerifiedRecord, received_ms: Option<i64>) {
        self.enter(record, received_ms);
        self.wake();
        self.settle();
    }

    fn enter(&mut self, record: VerifiedRecord, received_ms: Option<i64>) {
        let id = record.id();
        if self.entries.contains_key(&id) {
            return;
        }
        let body = Body::decode(record.kind(), record.body());
        self.stamps.insert(record.hlc());
        let slot = self.chains.entry(record.device()).or_default();
        match slot.get(&record.seq()) {
            // Two records of one number: both are kept, the lesser identity stands in the chain on
            // every device alike, and the fork is shown.
            Some(other) => {
                let lesser = id.min(*other);
                slot.insert(record.seq(), lesser);
                self.forks.insert((record.device(), record.seq()));
            }
            None => {
                slot.insert(record.seq(), id);
            }
        }
        self.entries.insert(
            id,
            Entry {
                record: record.clone(),
                body,
                received_ms,
            },
        );
        self.take_in(&record);
    }

    fn take_in(&mut self, record: &VerifiedRecord) {
        let id = record.id();
        let stamp = record.hlc();
        let Some(Ok(body)) = self.entries.get(&id).map(|entry| entry.body.clone()) else {
            return;
        };
        let by_authority = record.device() == self.authority.device();
        match body {
            Body::Vessel(body) if by_authority => {
                if self
                    .vessel_body
                    .as_ref()
                    .is_none_or(|(s, i, _)| (*s, *i) < (stamp, id))
                {
                    self.vessel_body = Some((stamp, id, body));
                }
            }
            Body::Credential(token) if by_authority => {
                if let Ok(signed) = SignedCredential::verify(&token, &self.authority) {
                    let credential = signed.credential().clone();
                    let key = credential.key;
                    self.holders.entry(key.device()).or_insert(Holder {
                        key,
                        credential,
                        signed,
                        record: id,
                    });
                    self.touch(|_| true);
                }
            }
            Body::Settings(body) => {
                if let Ok(settings) = serde_json::from_str::<Settings>(&body.json) {
                    self.settings.insert((stamp, id), settings);
                    self.touch(|_| true);
                }
            }
            Body::Plan(plan) => {
                let entry = PlanEntry {
                    id,
                    author: record.author().to_string(),
                    time_ms: record.time_ms(),
                    plan,
                };
                self.plans.insert((stamp, id), entry);
            }
            Body::Procedure(body) => {
                let Ok(procedure) = procedure::parse(&body.file, &body.text) else {
                    return;
                };
                let hash = procedure.hash();
                if body.published {
                    let slug = procedure.slug().to_owned();
                    let newer = self
                        .published
                        .get(&slug)
                        .is_none_or(|(s, i, _)| (*s, *i) < (stamp, id));
                    if newer {
                        self.published.insert(slug, (stamp, id, hash));
                    }
                }
                self.procedures
                    .entry(hash)
                    .or_insert_with(|| Arc::new(procedure));
                self.touch(|file| file.hash == hash && file.procedure.is_none());
            }
            Body::Run(event) => self.take_in_event(record, &event),
            Body::Withdrawal(withdrawal) if by_authority => {
                // Of several, the one that lets the key speak least counts, whatever came first.
                let slot = self
                    .withdrawn
                    .entry(withdrawal.device)
                    .or_insert(withdrawal.clone());
                if withdrawal.last_seq < slot.last_seq {
                    *slot = withdrawal;
                }
                self.touch(|_| true);
            }
            Body::Vessel(_) | Body::Credential(_) | Body::Withdrawal(_) => {}
        }
    }

    fn take_in_event(&mut self, record: &VerifiedRecord, event: &procedure::Event) {
        let id = record.id();
        match (record.run(), event) {
            (
                None,
                procedure::Event::Start {
                    procedure: hash, ..
                },
            ) => {
                let mut records = self.orphans.remove(&id).unwrap_or_default();
                records.insert(id);
                let file = RunFile {
                    id,
                    hash: *hash,
                    procedure: None,
                    records,
                    state: None,
                };
                self.runs.insert(id, file);
                self.dirty.insert(id);
            }
            (Some(run), _) => match self.runs.get_mut(&run) {
                Some(file) => {
                    file.records.insert(id);
                    self.dirty.insert(run);
                }
                None => {
                    self.orphans.entry(run).or_default().insert(id);
                }
            },
            (None, _) => {}
        }
    }

    /// Returns the events of a run, ready for the fold.
    fn stamped(&self, file: &RunFile) -> Vec<Stamped> {
        file.records
            .iter()
            .filter_map(|id| {
                let entry = &self.entries[id];
                let Ok(Body::Run(event)) = &entry.body else {
                    return None;
                };
                let record = &entry.record;
                let mut parents = record.heads().to_vec();
                parents.extend(self.before_in_run(file, record));
                Some(Stamped {
                    id: id.0,
                    parents: parents.into_iter().map(|id| id.0).collect(),
                    hlc: (record.hlc().ms, record.hlc().ctr),
                    at_ms: record.time_ms(),
                    person: procedure::PersonId::from(record.author().as_str()),
                    roles: self.roles_of(record),
                    device: record.device().0,
                    event: event.as_ref().clone(),
                })
            })
            .collect()
    }

    /// Returns the same device's newest earlier record in the run.
    fn before_in_run(&self, file: &RunFile, record: &VerifiedRecord) -> Option<RecordId> {
        let chain = self.chains.get(&record.device())?;
        chain
            .range(..record.seq())
            .rev()
            .map(|(_, id)| *id)
            .find(|id| file.records.contains(id))
    }

    /// Returns the roles that the key had when the record was made; none if its credential says that it
    /// is someone else's, or was not valid then.
    fn roles_of(&self, record: &VerifiedRecord) -> procedure::Roles {
        let withdrawn = self.withdrawn.get(&record.device());
        if withdrawn.is_some_and(|withdrawal| record.seq() > withdrawal.last_seq) {
            return procedure::Roles::NONE;
        }
        match self.holders.get(&record.device()) {
            Some(holder) if holder.credential.person == *record.author() => {
                roles_from_words(&holder.credential.roles)
            }
            _ => procedure::Roles::NONE,
        }
    }

    fn refold(&mut self, run: RunId) {
        let Some(file) = self.runs.get(&run) else {
            return;
        };
        let procedure = file
            .procedure
            .clone()
            .or_else(|| self.procedures.get(&file.hash).cloned());
        let state = procedure.as_ref().map(|procedure| {
            let started = self.entries[&run].record.hlc();
            let settings = self.settings_at(started);
            Arc::new(procedure::fold(procedure, &settings, &self.stamped(file)))
        });
        if let Some(file) = self.runs.get_mut(&run) {
            file.procedure = procedure;
            file.state = state;
        }
    }

    /// Returns the settings that were in force at `stamp`: a later change does not change what an
    /// earlier run was judged by.
    fn settings_at(&self, stamp: Hlc) -> Settings {
        self.settings
            .range(..(stamp, RecordId([0; 32])))
            .next_back()
            .map_or_else(Settings::defaults, |(_, settings)| settings.clone())
    }

    /// Marks runs to be folded again.
    fn touch(&mut self, which: impl Fn(&RunFile) -> bool) {
        let ids = self
            .runs
            .values()
            .filter(|file| which(file))
            .map(|file| file.id);
        self.dirty.extend(ids);
    }

    /// Folds again what has changed.
    fn settle(&mut self) {
        for run in std::mem::take(&mut self.dirty) {
            self.refold(run);
        }
    }

    /// Takes up the records that waited for a credential that is now here.
    fn wake(&mut self) {
        loop {
            let ready: Vec<RecordId> = self
                .waiting
                .iter()
                .filter(|(_, (envelope, _))| self.key_of(envelope.device()).is_some())
                .map(|(id, _)| *id)
                .collect();
            if ready.is_empty() {
                return;
            }
            for id in ready {
                let Some((envelope, received_ms)) = self.waiting.remove(&id) else {
                    continue;
                };
                let Some(key) = self.key_of(envelope.device()) else {
                    continue;
                };
                if let Ok(record) = envelope.verify(&key) {
                    self.enter(record, received_ms);
                }
            }
        }
    }
}

fn earlier(a: Option<i64>, b: Option<i64>) -> Option<i64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}

/// Returns `true` for the kinds that every reader of a vessel needs, whatever run they look at.
pub fn is_standing(record_kind: &str) -> bool {
    matches!(
        record_kind,
        kind::VESSEL | kind::CREDENTIAL | kind::WITHDRAWAL | kind::SETTINGS | kind::PROCEDURE
    )
}
