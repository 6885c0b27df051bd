//! The one task that owns the device's store: everything that is put on record goes through here.
//!
//! Owned by the page's root, so that no page that closes can take a write with it.

use crate::timer::{BrowserClock, sleep};
use crate::{enrol, fix, light, live, log, photo, session, sync, tell};
use futures::StreamExt;
use futures::channel::mpsc;
use journal::port::{Clock as _, LocalStore as _, StoreError};
use journal::{Admitted, Body, Intent, Ledger, Place, WriteError};
use leptos::prelude::*;
use record::{Envelope, PublicKey, SignedReceipt};
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use store::{BrowserKey, BrowserStore};
use ui::port::{Act, Me, Phone, ShipCard, Standing};

/// The name of the enrolled person's key in the store.
const KEY: &str = "me";
/// The note that says who is enrolled.
const NOTE_ME: &str = "me";
/// The note that says which ship this device belongs to.
const NOTE_SHIP: &str = "ship";
/// The note that holds the newest receipt, as hex.
const NOTE_RECEIPT: &str = "receipt";

/// Everything the tasks of this page share.
pub struct Device {
    /// What the pages see.
    pub phone: Phone,
    /// The disk.
    pub store: BrowserStore,
    /// The key, once somebody is enrolled.
    pub key: RefCell<Option<Rc<BrowserKey>>>,
    /// The newest receipt that was verified.
    pub receipt: RefCell<Option<SignedReceipt>>,
    /// Wakes the sync task.
    pub wake: Cell<bool>,
    /// A run is under way: news from the ship, a consent above all, is waited for.
    pub lively: Cell<bool>,
}

/// Opens the store and does what pages ask for, for as long as the page lives.
pub async fn run(phone: Phone, mut asked: mpsc::UnboundedReceiver<Act>) {
    phone.now_ms.set(BrowserClock.now_ms());
    phone.light.set(light::chosen());
    tell::follow_worker(phone);
    let store = match BrowserStore::open().await {
        Ok(store) => store,
        Err(error) => {
            phone.standing.set(Standing::NoStore(error.to_string()));
            return;
        }
    };
    let device = Rc::new(Device {
        phone,
        store,
        key: RefCell::new(None),
        receipt: RefCell::new(None),
        wake: Cell::new(true),
        lively: Cell::new(false),
    });
    session::follow(&device);
    if let Err(error) = device.open().await {
        phone.standing.set(Standing::NoStore(error.to_string()));
        return;
    }
    wasm_bindgen_futures::spawn_local(tick(phone));
    wasm_bindgen_futures::spawn_local(keep_watch(Rc::clone(&device)));
    wasm_bindgen_futures::spawn_local(sync::keep_going(Rc::clone(&device)));
    wasm_bindgen_futures::spawn_local(photo::keep_sending(Rc::clone(&device)));
    tell::follow_other_tabs(Rc::clone(&device));
    while let Some(act) = asked.next().await {
        device.do_it(act).await;
    }
}

/// Moves the page's clock once a second.
async fn tick(phone: Phone) {
    loop {
        sleep(1000).await;
        phone.now_ms.set(BrowserClock.now_ms());
    }
}

/// Looks after room on the disk, and the sun.
async fn keep_watch(device: Rc<Device>) {
    store::ask_to_persist().await;
    loop {
        let room = store::room().await;
        device.phone.keeping.update(|keeping| {
            keeping.persistent = room.persistent;
            keeping.low = room.is_low();
        });
        device.keep_sun();
        sleep(60_000).await;
    }
}

impl Device {
    /// Reads who this device is and every record on it.
    async fn open(&self) -> Result<(), StoreError> {
        let ship = match self.store.note(NOTE_SHIP).await? {
            Some(text) => serde_json::from_str::<ShipCard>(&text).ok(),
            None => None,
        };
        let Some(authority) = ship.as_ref().and_then(authority) else {
            self.phone.standing.set(Standing::Unknown);
            return Ok(());
        };
        let mut ledger = Ledger::new(authority);
        self.read_into(&mut ledger).await?;
        if let Some(receipt) = self.store.note(NOTE_RECEIPT).await?
            && let Some(bytes) = record::hex::decode(&receipt)
            && let Ok(receipt) = SignedReceipt::verify(&bytes, &authority)
        {
            *self.receipt.borrow_mut() = Some(receipt);
        }
        self.phone.ledger.set(Some(ledger));
        log::open(self).await?;
        self.look_up_me().await
    }

    /// Takes every record on the disk into `ledger`.
    async fn read_into(&self, ledger: &mut Ledger) -> Result<(), StoreError> {
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

    async fn look_up_me(&self) -> Result<(), StoreError> {
        let person = self.store.note(NOTE_ME).await?;
        let key = self
            .store
            .key(KEY)
            .await
            .map_err(|e| StoreError::Failed(e.to_string()))?;
        let (Some(person), Some(key)) = (person, key) else {
            self.phone.standing.set(Standing::Unknown);
            return Ok(());
        };
        let me = self.phone.ledger.with_untracked(|ledger| {
            let ledger = ledger.as_ref()?;
            let body = ledger.particulars()?;
            let member = body.crew.iter().find(|member| member.id == person)?;
            Some(Me {
                person: person.clone(),
                name: member.name.clone(),
                rank: member.rank.clone(),
                roles: journal::roles_from_words(&member.roles),
                device: key.id(),
                protection: key.protection().word().to_owned(),
            })
        });
        *self.key.borrow_mut() = Some(Rc::new(key));
        self.phone
            .standing
            .set(me.map_or(Standing::Unknown, Standing::Enrolled));
        self.count_waiting();
        Ok(())
    }

    /// Makes a key, has the ship enrol it, and keeps what the ship answered.
    async fn enrol(&self, code: &str, person: &str) -> Result<(), String> {
        let key = match self
            .store
            .key(KEY)
            .await
            .map_err(|error| error.to_string())?
        {
            Some(key) => key,
            None => self
                .store
                .make_key(KEY)
                .await
                .map_err(|error| error.to_string())?,
        };
        let answer = enrol::ask(&key, code, person).await?;
        let authority =
            authority(&answer.ship).ok_or_else(|| "the ship's key cannot be read".to_owned())?;
        let text = serde_json::to_string(&answer.ship).map_err(|error| error.to_string())?;
        let mut ledger = Ledger::new(authority);
        let mut kept = Vec::new();
        for hex in &answer.records {
            let bytes = record::hex::decode(hex).ok_or("the ship's answer is not hex")?;
            let envelope = Envelope::decode(&bytes).map_err(|refusal| refusal.to_string())?;
            kept.push((envelope.device(), envelope.seq(), bytes));
            ledger
                .admit(envelope)
                .map_err(|refusal| refusal.to_string())?;
        }
        self.store
            .keep(&kept)
            .await
            .map_err(|error| error.to_string())?;
        self.store
            .set_note(NOTE_SHIP, &text)
            .await
            .map_err(|error| error.to_string())?;
        self.store
            .set_note(NOTE_ME, person)
            .await
            .map_err(|error| error.to_string())?;
        self.read_into(&mut ledger)
            .await
            .map_err(|error| error.to_string())?;
        self.phone.ledger.set(Some(ledger));
        self.look_up_me().await.map_err(|error| error.to_string())?;
        self.keep_sun();
        self.wake.set(true);
        Ok(())
    }

    async fn do_it(self: &Rc<Self>, act: Act) {
        match act {
            Act::Enrol { code, person } => {
                self.phone.saving.set(true);
                let done = self.enrol(&code, &person).await;
                self.phone.saving.set(false);
                self.phone.trouble.set(done.err());
            }
            Act::Start { slug, choices } => self.start(&slug, choices).await,
            Act::Say { run, event } => {
                self.put(Some(run), Body::Run(event)).await;
            }
            Act::Plan {
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
            Act::Publish { file, text } => {
                let body = journal::body::ProcedureBody {
                    file,
                    text,
                    published: true,
                };
                self.put(None, Body::Procedure(body)).await;
            }
            Act::Settings { json } => {
                self.put(None, Body::Settings(journal::SettingsBody { json }))
                    .await;
            }
            Act::LogRead { trouble, reason } => log::read(self, &trouble, &reason).await,
            Act::Fix => fix::ask(self.phone),
            // Neither may keep a tick waiting that is asked for meanwhile.
            Act::TakePhoto { input } => {
                let device = Rc::clone(self);
                wasm_bindgen_futures::spawn_local(
                    async move { photo::take(&device, &input).await },
                );
            }
            Act::FindPhoto(hash) => {
                let device = Rc::clone(self);
                wasm_bindgen_futures::spawn_local(async move { photo::find(&device, hash).await });
            }
            Act::Alert => tell::shake(),
            Act::Sync => self.wake.set(true),
            Act::Watch => live::watch(self),
            Act::Persist => {
                let persistent = store::ask_to_persist().await;
                self.phone
                    .keeping
                    .update(|keeping| keeping.persistent = persistent);
            }
            Act::TakeUpdate => tell::take_over(),
            Act::Understood => self.phone.trouble.set(None),
            Act::Light(choice) => {
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
            receipt: self.receipt.borrow().as_ref().map(SignedReceipt::hash),
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
            Standing::Enrolled(me) => Some(me),
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

    /// Counts what the ship has not acknowledged.
    pub fn count_waiting(&self) {
        let Some(key) = self.key.borrow().clone() else {
            return;
        };
        self.lively.set(self.has_run_under_way());
        let own = self.phone.ledger.with_untracked(|ledger| {
            ledger
                .as_ref()
                .and_then(|ledger| ledger.vector().get(&key.id()).copied())
        });
        let on_ship = self.receipt.borrow().as_ref().map_or(0, |receipt| {
            if receipt.receipt().device == key.id() {
                receipt.receipt().seq
            } else {
                0
            }
        });
        let waiting = own.unwrap_or(0).saturating_sub(on_ship);
        self.phone
            .link
            .update(|link| link.waiting = usize::try_from(waiting).unwrap_or(0));
    }

    /// Keeps a receipt that was verified, and counts again.
    pub async fn keep_receipt(&self, receipt: SignedReceipt) {
        let newer = self
            .receipt
            .borrow()
            .as_ref()
            .is_none_or(|old| old.receipt().seq <= receipt.receipt().seq);
        if newer {
            let hex = record::hex::encode(receipt.bytes());
            // If the disk does not take it, the ship gives it again at the next contact.
            let _ = self.store.set_note(NOTE_RECEIPT, &hex).await;
            *self.receipt.borrow_mut() = Some(receipt);
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
    fn keep_sun(&self) {
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

fn authority(ship: &ShipCard) -> Option<PublicKey> {
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
