//! The one task that owns the device's store: everything that is put on record goes through here.
//!
//! Owned by the page's root, so that no page that closes can take a write with it.

use crate::timer::{BrowserClock, sleep};
use crate::{fix, light, live, log, people, photo, session, sync, tell};
use futures::StreamExt;
use futures::channel::mpsc;
use journal::door::ShipCard;
use journal::lock::Opened;
use journal::port::{Clock as _, LocalStore as _, StoreError};
use journal::{Admitted, Body, Holder, Intent, Ledger, Place, WriteError};
use leptos::prelude::*;
use record::{DeviceId, Envelope, PublicKey, SignedReceipt};
use std::cell::{Cell, RefCell};
use std::collections::BTreeMap;
use std::rc::Rc;
use store::{BrowserKey, BrowserStore};
use ui::port::{Command, Device, DeviceState, Me};

/// The note that says which ship this device belongs to.
pub const NOTE_SHIP: &str = "ship";
/// The note that held the newest receipt of the one key of the first version, as hex.
const NOTE_RECEIPT: &str = "receipt";

/// The note that holds the newest receipt of a key, as hex.
fn receipt_of(device: &str) -> String {
    format!("{NOTE_RECEIPT}/{device}")
}

/// Everything the tasks of this page share.
pub struct DeviceRoot {
    /// What the pages see.
    pub phone: Device,
    /// The disk.
    pub store: BrowserStore,
    /// The key of whoever has the phone, while it is open.
    pub key: RefCell<Option<Rc<BrowserKey>>>,
    /// Its chain, open or not.
    pub own: Cell<Option<DeviceId>>,
    /// When the open key is to be put away.
    pub opened: Cell<Option<Opened>>,
    /// What waits for the key to be opened.
    pub waits: RefCell<Option<Command>>,
    /// Everybody whose key was ever on this phone.
    pub holders: RefCell<Vec<Holder>>,
    /// The key of somebody who is being enrolled.
    pub new_key: RefCell<Option<Rc<BrowserKey>>>,
    /// The newest trial of a key: its sequence number, and when it was made.
    pub tried: Cell<Option<(DeviceId, u64, i64)>>,
    /// The newest receipt of each of the phone's own chains that was verified.
    pub receipts: RefCell<BTreeMap<DeviceId, SignedReceipt>>,
    /// Wakes the sync task.
    pub wake: Cell<bool>,
    /// A run is under way: news from the ship, a consent above all, is waited for.
    pub lively: Cell<bool>,
}

/// Opens the store and does what pages ask for, for as long as the page lives.
pub async fn run(phone: Device, mut asked: mpsc::UnboundedReceiver<Command>, code: Option<String>) {
    phone.now_ms.set(BrowserClock.now_ms());
    phone.light.set(light::chosen());
    tell::follow_worker(phone);
    let store = match BrowserStore::open().await {
        Ok(store) => store,
        Err(error) => {
            phone.standing.set(DeviceState::NoStore(error.to_string()));
            return;
        }
    };
    let device = Rc::new(DeviceRoot {
        phone,
        store,
        key: RefCell::new(None),
        own: Cell::new(None),
        opened: Cell::new(None),
        waits: RefCell::new(None),
        holders: RefCell::new(Vec::new()),
        new_key: RefCell::new(None),
        tried: Cell::new(None),
        receipts: RefCell::new(BTreeMap::new()),
        wake: Cell::new(true),
        lively: Cell::new(false),
    });
    session::follow(&device);
    if let Err(error) = device.open(code).await {
        phone.standing.set(DeviceState::NoStore(error.to_string()));
        return;
    }
    wasm_bindgen_futures::spawn_local(tick(phone));
    wasm_bindgen_futures::spawn_local(keep_watch(Rc::clone(&device)));
    wasm_bindgen_futures::spawn_local(people::keep_lock(Rc::clone(&device)));
    wasm_bindgen_futures::spawn_local(sync::keep_going(Rc::clone(&device)));
    wasm_bindgen_futures::spawn_local(photo::keep_sending(Rc::clone(&device)));
    tell::follow_other_tabs(Rc::clone(&device));
    while let Some(act) = asked.next().await {
        device.do_it(act).await;
    }
}

/// Moves the page's clock once a second.
async fn tick(phone: Device) {
    loop {
        sleep(1000).await;
        phone.now_ms.set(BrowserClock.now_ms());
    }
}

/// Looks after room on the disk, and the sun.
async fn keep_watch(device: Rc<DeviceRoot>) {
    store::ask_to_persist().await;
    loop {
        let room = store::room().await;
        device.phone.keeping.update(|keeping| {
            keeping.persistent = room.persistent;
            keeping.low = room.is_low();
        });
        device.look().await;
        device.keep_sun();
        sleep(60_000).await;
    }
}

impl DeviceRoot {
    /// Reads whose this device is and every record on it.
    async fn open(&self, code: Option<String>) -> Result<(), StoreError> {
        let ship = match self.store.note(NOTE_SHIP).await? {
            Some(text) => serde_json::from_str::<ShipCard>(&text).ok(),
            None => None,
        };
        let authority = ship.as_ref().and_then(authority);
        if let Some(authority) = authority {
            let mut ledger = Ledger::new(authority);
            self.read_into(&mut ledger).await?;
            self.phone.ledger.set(Some(ledger));
        }
        if authority.is_some() {
            log::open(self).await?;
        }
        self.look_up_people().await?;
        if let Some(authority) = authority {
            self.read_receipts(&authority).await?;
        }
        self.look_up_enrolment(code).await
    }

    /// Reads the newest receipt of each of the phone's own chains.
    async fn read_receipts(&self, authority: &PublicKey) -> Result<(), StoreError> {
        let names: Vec<String> = self
            .holders
            .borrow()
            .iter()
            .map(|one| receipt_of(&one.device))
            .chain([NOTE_RECEIPT.to_owned()])
            .collect();
        for name in names {
            if let Some(receipt) = self.store.note(&name).await?
                && let Some(bytes) = record::hex::decode(&receipt)
                && let Ok(receipt) = SignedReceipt::verify(&bytes, authority)
            {
                self.take_receipt(receipt);
            }
        }
        self.count_waiting();
        Ok(())
    }

    /// Takes every record on the disk into `ledger`.
    pub async fn read_into(&self, ledger: &mut Ledger) -> Result<(), StoreError> {
        let stored = self.store.all().await?;
        let envelopes = stored
            .iter()
            .filter_map(|bytes| Envelope::decode(bytes).ok());
        ledger.admit_all(envelopes.map(|envelope| (envelope, None)));
        Ok(())
    }

    /// Takes up what another tab has put on the disk.
    pub async fn read_again(&self) {
        let Ok(stored) = self.store.all().await else {
            return;
        };
        self.phone.ledger.update(|ledger| {
            if let Some(ledger) = ledger {
                let envelopes = stored
                    .iter()
                    .filter_map(|bytes| Envelope::decode(bytes).ok());
                ledger.admit_all(envelopes.map(|envelope| (envelope, None)));
            }
        });
        self.count_waiting();
    }

    async fn do_it(self: &Rc<Self>, act: Command) {
        if self.must_wait(&act) {
            return;
        }
        match act {
            Command::ChoosePin(pin) => self.choose_pin(pin).await,
            Command::ProvePin(pin) => self.prove_pin(pin).await,
            Command::Enrol { code, first } => self.enrol(&code, first.as_ref()).await,
            Command::DropEnrolment => self.drop_enrolment().await,
            Command::Unlock { device, pin } => {
                if let Some(waited) = self.unlock(&device, pin).await {
                    Box::pin(self.do_it(waited)).await;
                }
            }
            Command::Lock => self.lock(),
            Command::NotNow => self.not_now(),
            Command::Look => self.look().await,
            Command::Trial => self.trial().await,
            Command::Start { slug, choices } => self.start(&slug, choices).await,
            Command::Say { run, event } => {
                self.put(Some(run), Body::Run(event)).await;
            }
            Command::Plan {
                title,
                input_json,
                order,
            } => {
                let plan = journal::body::PlanBody {
                    title,
                    input_json,
                    order,
                };
                self.put(None, Body::Plan(plan)).await;
            }
            Command::Publish { file, text } => {
                let body = journal::body::ProcedureBody {
                    file,
                    text,
                    published: true,
                };
                self.put(None, Body::Procedure(body)).await;
            }
            Command::Settings { json } => {
                self.put(None, Body::Settings(journal::SettingsBody { json }))
                    .await;
            }
            Command::LogRead { trouble, reason } => log::read(self, &trouble, &reason).await,
            Command::Fix => fix::ask(self.phone),
            // Neither may keep a tick waiting that is asked for meanwhile.
            Command::TakePhoto { input } => {
                let device = Rc::clone(self);
                wasm_bindgen_futures::spawn_local(
                    async move { photo::take(&device, &input).await },
                );
            }
            Command::FindPhoto(hash) => {
                let device = Rc::clone(self);
                wasm_bindgen_futures::spawn_local(async move { photo::find(&device, hash).await });
            }
            Command::Alert => tell::alarm(),
            Command::Sync => self.wake.set(true),
            Command::Watch => live::watch(self),
            Command::Persist => {
                let persistent = store::ask_to_persist().await;
                self.phone
                    .keeping
                    .update(|keeping| keeping.persistent = persistent);
                self.look().await;
            }
            Command::TakeUpdate => tell::take_over(),
            Command::Understood => self.phone.trouble.set(None),
            Command::Light(choice) => {
                light::choose(choice);
                self.phone.light.set(choice);
            }
        }
    }

    /// Starts a run: pins the procedure's text on record first, if no record carries it yet.
    async fn start(&self, slug: &str, choices: Vec<(String, String)>) {
        let found = self.phone.ledger.with_untracked(|ledger| {
            let ledger = ledger.as_ref()?;
            let procedure = ledger.current(slug)?;
            let hash = procedure.hash();
            let text = (!ledger.has_text_of(hash))
                .then(|| ledger.text_of(slug))
                .flatten();
            Some((hash, text))
        });
        let Some((hash, text)) = found else {
            self.phone.trouble.set(Some(format!(
                "there is no procedure {slug:?} on this device"
            )));
            return;
        };
        if let Some(body) = text
            && self.put(None, Body::Procedure(body)).await.is_none()
        {
            return;
        }
        let event = procedure::Event::Start {
            procedure: hash,
            slug: slug.to_owned(),
            choices,
            remark: String::new(),
        };
        if let Some(run) = self.put(None, Body::Run(Box::new(event))).await {
            self.phone.started.set(Some(run));
        }
    }

    /// Puts one thing on record; shows it done only when the disk has it.
    pub async fn put(&self, run: Option<journal::RunId>, body: Body) -> Option<record::RecordId> {
        let Some(me) = self.me() else {
            self.phone
                .trouble
                .set(Some("nobody is enrolled on this device".to_owned()));
            return None;
        };
        let Some(key) = self.key.borrow().clone() else {
            self.phone
                .trouble
                .set(Some("this device has no key".to_owned()));
            return None;
        };
        self.phone.saving.set(true);
        let intent = Intent {
            author: record::PersonId::from(me.person.as_str()),
            run,
            body,
            receipt: self
                .receipts
                .borrow()
                .get(&key.id())
                .map(SignedReceipt::hash),
        };
        let place = self.phone.ledger.with_untracked(|ledger| {
            let now_ms = BrowserClock.now_ms();
            ledger
                .as_ref()
                .map(|ledger| Place::in_ledger(ledger, run, key.id(), now_ms))
        });
        let written = match &place {
            Some(place) => {
                journal::write(&self.store, key.as_ref(), &BrowserClock, place, &intent).await
            }
            None => Err(WriteError::Store(StoreError::Failed(
                "no ship is known".to_owned(),
            ))),
        };
        self.phone.saving.set(false);
        match written {
            Ok(record) => {
                let id = record.id();
                self.phone.ledger.update(|ledger| {
                    if let Some(ledger) = ledger {
                        ledger.admit_verified(record, None);
                    }
                });
                self.count_waiting();
                tell::other_tabs();
                self.wake.set(true);
                Some(id)
            }
            Err(error) => {
                self.phone.trouble.set(Some(not_saved(&error)));
                None
            }
        }
    }

    fn me(&self) -> Option<Me> {
        match self.phone.standing.get_untracked() {
            DeviceState::Enrolled(me) => Some(me),
            _ => None,
        }
    }

    /// Says whether a run is open whose newest record is less than a day old.
    fn has_run_under_way(&self) -> bool {
        const DAY_MS: i64 = 86_400_000;
        let now = BrowserClock.now_ms();
        self.phone.ledger.with_untracked(|ledger| {
            ledger.as_ref().is_some_and(|ledger| {
                ledger.runs().keys().any(|run| {
                    journal::board::run_card(ledger, *run, now).is_some_and(|card| {
                        card.view.closed.is_none() && now - card.newest_ms < DAY_MS
                    })
                })
            })
        })
    }

    /// Returns how far the ship has signed for a chain; 0 if she has not.
    pub fn signed_for(&self, device: DeviceId) -> u64 {
        self.receipts
            .borrow()
            .get(&device)
            .map_or(0, |receipt| receipt.receipt().seq)
    }

    /// Returns the phone's own chains: of everybody whose key is or was on it.
    pub fn own_chains(&self) -> Vec<DeviceId> {
        self.holders
            .borrow()
            .iter()
            .filter_map(|one| one.device.parse().ok())
            .collect()
    }

    /// Counts what the ship has not acknowledged, whoever of this phone signed it.
    pub fn count_waiting(&self) {
        self.lively.set(self.has_run_under_way());
        let vector = self
            .phone
            .ledger
            .with_untracked(|ledger| ledger.as_ref().map(Ledger::vector))
            .unwrap_or_default();
        let waiting: u64 = self
            .own_chains()
            .iter()
            .map(|device| {
                let made = vector.get(device).copied().unwrap_or(0);
                made.saturating_sub(self.signed_for(*device))
            })
            .sum();
        self.phone
            .link
            .update(|link| link.waiting = usize::try_from(waiting).unwrap_or(0));
    }

    /// Takes a receipt up, if it is newer than the one before; says whether it was.
    fn take_receipt(&self, receipt: SignedReceipt) -> bool {
        let device = receipt.receipt().device;
        let is_newer = self.signed_for(device) <= receipt.receipt().seq;
        if is_newer {
            self.receipts.borrow_mut().insert(device, receipt);
            self.look_at_trial();
        }
        is_newer
    }

    /// Keeps a receipt that was verified, and counts again.
    pub async fn keep_receipt(&self, receipt: SignedReceipt) {
        let name = receipt_of(&receipt.receipt().device.to_string());
        let hex = record::hex::encode(receipt.bytes());
        if self.take_receipt(receipt) {
            // If the disk does not take it, the ship gives it again at the next contact.
            let _ = self.store.set_note(&name, &hex).await;
        }
        self.count_waiting();
    }

    /// Takes up records that came from the ship: on disk first, then into the ledger.
    pub async fn take_up(&self, envelopes: Vec<Envelope>) -> Result<usize, StoreError> {
        let fresh: Vec<Envelope> = self.phone.ledger.with_untracked(|ledger| {
            let Some(ledger) = ledger else {
                return Vec::new();
            };
            envelopes
                .into_iter()
                .filter(|e| ledger.entry(e.id()).is_none())
                .collect()
        });
        let rows: Vec<_> = fresh
            .iter()
            .map(|e| (e.device(), e.seq(), e.bytes().to_vec()))
            .collect();
        if rows.is_empty() {
            return Ok(0);
        }
        self.store.keep(&rows).await?;
        let mut new = 0;
        self.phone.ledger.update(|ledger| {
            if let Some(ledger) = ledger {
                let answers = ledger.admit_all(fresh.into_iter().map(|e| (e, None)));
                new = answers
                    .iter()
                    .filter(|a| matches!(a, Ok(Admitted::New(_))))
                    .count();
            }
        });
        tell::other_tabs();
        Ok(new)
    }

    /// Keeps today's sunrise and sunset for the light that follows the sun.
    pub fn keep_sun(&self) {
        let position = self.phone.ledger.with_untracked(|ledger| {
            let body = ledger.as_ref()?.particulars()?;
            Some((
                f64::from(body.latitude_e7) / 1e7,
                f64::from(body.longitude_e7) / 1e7,
            ))
        });
        if let Some((latitude, longitude)) = position {
            light::keep_sun_at(latitude, longitude);
        }
    }
}

/// Reads the key of a ship's authority, if it is the one that names her.
pub fn authority(ship: &ShipCard) -> Option<PublicKey> {
    let bytes = record::hex::decode(&ship.authority)?;
    let key = PublicKey::from_bytes(&bytes).ok()?;
    (key.vessel() == ship.vessel).then_some(key)
}

fn not_saved(error: &WriteError) -> String {
    match error {
        WriteError::Store(StoreError::Full) => {
            "NOT saved: this phone's storage is full. Everything ticked before is safe. Free some \
             space, then do the step again."
                .to_owned()
        }
        other => format!(
            "NOT saved: {other}. Everything ticked before is safe. Do the step again; if it happens \
             again, use paper and tell the officer."
        ),
    }
}
