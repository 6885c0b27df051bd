//! Taking records up: what each adds to the ledger, whatever the order they come in.

use super::{Admitted, Chain, Entry, Holder, Ledger, PlanEntry, RunFile, Said};
use crate::body::{Body, roles_from_words};
use procedure::Settings;
use record::{Envelope, RecordId, Refusal, SignedCredential, VerifiedRecord};
use std::sync::Arc;

impl Ledger {
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
            .map(|(envelope, received_ms)| self.insert(envelope, received_ms))
            .collect();
        self.refold_changed();
        answers
    }

    /// Takes up many records and leaves the folding to be done: see [`Ledger::fold_changed`].
    pub fn take_up_all(
        &mut self,
        envelopes: impl IntoIterator<Item = (Envelope, Option<i64>)>,
    ) -> Vec<Result<Admitted, Refusal>> {
        let answers = envelopes
            .into_iter()
            .map(|(envelope, received_ms)| self.insert(envelope, received_ms))
            .collect();
        self.sift_standing();
        answers
    }

    /// Takes up many records that have been verified already and leaves the folding to be done: see
    /// [`Ledger::fold_changed`].
    pub fn take_up_verified(
        &mut self,
        records: impl IntoIterator<Item = (VerifiedRecord, Option<i64>)>,
    ) {
        for (record, received_ms) in records {
            self.apply(record, received_ms);
        }
        self.retry_waiting();
        self.sift_standing();
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
        let answer = self.insert(envelope, received_ms);
        self.refold_changed();
        answer
    }

    fn insert(
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
            let before_ms = entry.received_ms;
            entry.received_ms = earlier(before_ms, received_ms);
            let now_ms = entry.received_ms;
            self.note_arrival(before_ms, now_ms);
            return Ok(Admitted::Known(id));
        }
        if self.is_put_away(id) {
            return Ok(Admitted::Known(id));
        }
        let Some(key) = self.key_of(envelope.device()) else {
            let name = (id, *envelope.signature());
            let slot = self.waiting.entry(name).or_insert((envelope, None));
            slot.1 = earlier(slot.1, received_ms);
            return Ok(Admitted::Waiting(id));
        };
        let record = envelope.verify(&key)?;
        self.apply(record, received_ms);
        self.retry_waiting();
        Ok(Admitted::New(id))
    }

    /// Takes up a record that has been verified already, as one that this device just signed.
    pub fn admit_verified(&mut self, record: VerifiedRecord, received_ms: Option<i64>) {
        self.apply(record, received_ms);
        self.retry_waiting();
        self.refold_changed();
    }

    /// Takes up many records that have been verified already, folding each run once at the end.
    pub fn admit_all_verified(
        &mut self,
        records: impl IntoIterator<Item = (VerifiedRecord, Option<i64>)>,
    ) {
        self.take_up_verified(records);
        self.refold_changed();
    }

    fn apply(&mut self, record: VerifiedRecord, received_ms: Option<i64>) {
        let id = record.id();
        if self.entries.contains_key(&id) || self.is_put_away(id) {
            return;
        }
        self.note_arrival(None, received_ms);
        let body = Body::decode(record.kind(), record.body());
        let prev = record.prev();
        let entry = Entry {
            record,
            body,
            received_ms,
            is_pending: true,
        };
        self.entries.insert(id, entry);
        if self.follows(id) {
            self.count_from(id);
        } else if let Some(prev) = prev {
            self.followers.entry(prev).or_default().insert(id);
        }
    }

    /// Lets a record count whose chain is whole up to it, and those that waited for it.
    fn count_from(&mut self, id: RecordId) {
        let mut next = vec![id];
        while let Some(id) = next.pop() {
            if !self.follows(id) {
                continue;
            }
            if let Some(entry) = self.entries.get_mut(&id) {
                entry.is_pending = false;
                let record = entry.record.clone();
                self.chain_up(&record);
                self.take_in(&record);
            }
            next.extend(self.followers.remove(&id).into_iter().flatten());
        }
    }

    /// Says whether a record that is pending begins its chain, or names one that counts as the one before it.
    fn follows(&self, id: RecordId) -> bool {
        let Some(Entry {
            record,
            is_pending: true,
            ..
        }) = self.entries.get(&id)
        else {
            return false;
        };
        let Some(prev) = record.prev() else {
            return record.seq() == 1;
        };
        let before = self.place_of(prev);
        before.is_some_and(|(device, seq)| {
            device == record.device() && seq.checked_add(1) == Some(record.seq())
        })
    }

    /// Puts a record that counts into its chain.
    fn chain_up(&mut self, record: &VerifiedRecord) {
        let id = record.id();
        self.stamps.note(record.hlc());
        let slot = self.chains.entry(record.device()).or_default();
        match slot.get(record.seq()) {
            // Two records of one number: both are kept, the lesser identity stands in the chain on
            // every device alike, and the fork is shown.
            Some(other) => {
                slot.insert(record.seq(), id.min(other));
                self.forks.insert((record.device(), record.seq()));
                self.want_run_of(other);
            }
            None => {
                slot.insert(record.seq(), id);
            }
        }
        self.raise_height(record.device());
    }

    pub(super) fn raise_height(&mut self, device: record::DeviceId) {
        let height = self.chains.get(&device).map_or(0, Chain::height);
        if height > 0 {
            self.heights.insert(device, height);
        }
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
                let is_first = self
                    .crew_lists
                    .first_key_value()
                    .is_none_or(|(first, _)| (stamp, id) < *first);
                self.crew_lists.insert((stamp, id), body.crew.clone());
                self.crew_changed(|bears| {
                    !bears.heard.is_empty() && (is_first || bears.latest >= stamp)
                });
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
                    self.take_in_credential(record, signed);
                }
            }
            Body::Settings(body) => {
                if let Ok(settings) = crate::json::read::<Settings>(&body.json) {
                    self.settings.insert((stamp, id), settings);
                    self.is_settings_stale = true;
                    self.gear.is_stale = true;
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
                let Ok(procedure) = procedure::parse_on_record(&body.file, &body.text) else {
                    return;
                };
                let hash = procedure.hash();
                self.texts.insert(hash);
                if body.published {
                    let slug = procedure.slug().to_owned();
                    let offered = self.published.entry(slug).or_default();
                    offered.insert((stamp, id), hash);
                }
                let procedure = self
                    .procedures
                    .entry(hash)
                    .or_insert_with(|| Arc::new(procedure));
                let procedure = Arc::clone(procedure);
                self.pinned_text_is_here(&procedure, hash);
            }
            Body::Run(event) => self.take_in_event(record, &event),
            Body::Gear(body) => self.gear.take((stamp, id), body),
            Body::Watch(_) => {
                self.watch.insert((stamp, id));
            }
            Body::GearKind(body) => self.gear.take_kinds((stamp, id), &body),
            Body::Withdrawal(withdrawal) if by_authority => {
                // Of several, the one that lets the key speak least counts, whatever came first.
                let slot = self
                    .withdrawn
                    .entry(withdrawal.device)
                    .or_insert(withdrawal.clone());
                let rank = |w: &record::Withdrawal| (w.last_seq, w.from_ms, w.reason.clone());
                let before = slot.clone();
                if rank(&withdrawal) < rank(slot) {
                    *slot = withdrawal.clone();
                }
                let last_seq = before.last_seq.min(withdrawal.last_seq);
                let from_ms = before.from_ms.min(withdrawal.from_ms);
                let from_ms = u64::try_from(from_ms).unwrap_or(0);
                let device = withdrawal.device;
                self.crew_changed(|bears| {
                    bears.is_after(device, last_seq)
                        || (!bears.heard.is_empty() && bears.latest.ms >= from_ms)
                });
            }
            Body::RolesFrom(change) if by_authority => {
                let changes = self.role_changes.entry(change.device).or_default();
                changes.insert((change.last_seq, change.credential));
                self.crew_changed(|bears| bears.is_after(change.device, change.last_seq));
            }
            // A finding is looked for where a log's trouble is shown.
            Body::RolesFrom(_)
            | Body::Vessel(_)
            | Body::Credential(_)
            | Body::Withdrawal(_)
            | Body::Trial(_)
            | Body::Finding(_) => {}
        }
    }

    /// The newest credential of a key says whose it is now.
    fn take_in_credential(&mut self, record: &VerifiedRecord, signed: SignedCredential) {
        let (stamp, id) = (record.hlc(), record.id());
        let credential = signed.credential().clone();
        let key = credential.key;
        let history = self.roles.entry(key.device()).or_default();
        let roles = roles_from_words(&credential.roles);
        // One that held already when it was signed reaches back for clocks that are behind, and a clock may
        // be further behind than that; one that was signed ahead says when its person joins.
        let is_ahead = record.time_ms().div_euclid(1000) < credential.not_before_s;
        let said = Said {
            person: credential.person.clone(),
            roles,
            joins_s: is_ahead.then_some(credential.not_before_s),
            expires_s: credential.expires_s,
        };
        // What the first one says holds before it too.
        let is_first = history
            .first_key_value()
            .is_none_or(|(first, _)| (stamp, id) < *first);
        let is_only = history.is_empty();
        let person = procedure::PersonId::from(credential.person.as_str());
        history.insert((stamp, id), said);
        let is_newest = history
            .last_key_value()
            .is_some_and(|(newest, _)| *newest == (stamp, id));
        if is_newest {
            let holder = Holder {
                key,
                credential,
                signed,
                record: id,
            };
            self.holders.insert(key.device(), holder);
        }
        let device = key.device();
        let changes: Vec<(record::DeviceId, u64)> = self
            .role_changes
            .iter()
            .flat_map(|(device, changes)| changes.iter().map(|change| (*device, *change)))
            .filter(|(_, (_, credential))| *credential == id)
            .map(|(device, (last_seq, _))| (device, last_seq))
            .collect();
        self.crew_changed(|bears| {
            let is_later = is_first || bears.latest >= stamp;
            let is_heard = if is_only {
                bears.heard.contains(&person)
            } else {
                !bears.heard.is_empty() && is_later
            };
            let mut changes = changes.iter();
            is_heard
                || (is_later && bears.last_seqs.contains_key(&device))
                || changes.any(|(device, last_seq)| bears.is_after(*device, *last_seq))
        });
    }

    fn take_in_event(&mut self, record: &VerifiedRecord, event: &procedure::Event) {
        let id = record.id();
        for hash in attached(event) {
            self.note_photo(hash);
        }
        match (record.run(), event) {
            (
                None,
                procedure::Event::Start {
                    procedure: hash, ..
                },
            ) => {
                let mut records = self.orphans.remove(&id).unwrap_or_default();
                records.insert(id);
                let made = records.iter().filter_map(|id| self.entries.get(id));
                let newest_ms = made.map(|entry| entry.record.time_ms()).max();
                self.runs_of.entry(*hash).or_default().insert(id);
                let file = RunFile {
                    id,
                    hash: *hash,
                    procedure: None,
                    records,
                    state: None,
                    past: None,
                    defects: Vec::new(),
                    seconds: Vec::new(),
                    newest_ms: newest_ms.unwrap_or_else(|| record.time_ms()),
                    closed_ms: None,
                    bears: Arc::default(),
                    away: None,
                    number: None,
                    version: 0,
                };
                self.runs.insert(id, file);
                self.mark(id);
            }
            (Some(run), _) => match self.runs.get_mut(&run) {
                Some(file) => {
                    file.records.insert(id);
                    file.newest_ms = file.newest_ms.max(record.time_ms());
                    self.mark(run);
                }
                None => {
                    self.orphans.entry(run).or_default().insert(id);
                }
            },
            (None, _) => {}
        }
    }

    /// Notes that a record names a photograph.
    pub(super) fn note_photo(&mut self, hash: [u8; 32]) {
        if self.photos.insert(hash) {
            self.photo_order.push(hash);
        }
    }

    /// Takes up the records that waited for a credential that is now here.
    fn retry_waiting(&mut self) {
        loop {
            let ready: Vec<_> = self
                .waiting
                .iter()
                .filter(|(_, (envelope, _))| self.key_of(envelope.device()).is_some())
                .map(|(name, _)| *name)
                .collect();
            if ready.is_empty() {
                return;
            }
            for name in ready {
                let Some((envelope, received_ms)) = self.waiting.remove(&name) else {
                    continue;
                };
                let Some(key) = self.key_of(envelope.device()) else {
                    continue;
                };
                if let Ok(record) = envelope.verify(&key) {
                    self.apply(record, received_ms);
                }
            }
        }
    }
}

/// Returns the photograph and the voice note that an event names.
fn attached(event: &procedure::Event) -> impl Iterator<Item = [u8; 32]> + use<> {
    let (photo, voice) = match event {
        procedure::Event::NotSo { photo, .. } => (*photo, None),
        procedure::Event::Message { photo, voice, .. } => (*photo, *voice),
        procedure::Event::Done {
            outcome: procedure::Outcome::Photo { hash },
            ..
        } => (Some(*hash), None),
        _ => (None, None),
    };
    photo.into_iter().chain(voice)
}

/// Returns the photograph and the voice note that a record names.
pub(super) fn attached_to(
    body: &Result<Body, crate::body::BodyError>,
) -> impl Iterator<Item = [u8; 32]> {
    let event = match body {
        Ok(Body::Run(event)) => Some(event),
        _ => None,
    };
    event.into_iter().flat_map(|event| attached(event))
}

fn earlier(a: Option<i64>, b: Option<i64>) -> Option<i64> {
    match (a, b) {
        (Some(a), Some(b)) => Some(a.min(b)),
        (a, b) => a.or(b),
    }
}
