//! The one task that owns the device's store: everything that is put on record goes through here.
//!
//! Owned by the page's root, so that no page that closes can take a write with it.

use crate::timer::{BrowserClock, sleep};
use crate::{kept, later, light, people, photo, session, sync, tabs};
use futures::StreamExt;
use futures::channel::{mpsc, oneshot};
use futures::future::join;
use journal::Holder;
use journal::auth_messages::ShipCard;
use journal::lock::{self, IDLE_MS, Opened};
use journal::outbox::{self, Receipts};
use journal::port::{Clock as _, StoreError};
use journal::press::LastPress;
use leptos::prelude::*;
use record::{DeviceId, PublicKey, SignedReceipt};
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use store::{BrowserKey, BrowserStore};
use ui::port::{Command, Device, DeviceState, Me, RecordCommand};

/// The note that says which ship this device belongs to.
pub const NOTE_SHIP: &str = "ship";
/// The note that held the newest receipt of the one key of the first version, as hex.
const NOTE_RECEIPT: &str = "receipt";

/// The note that holds the newest receipt of a key, as hex.
fn receipt_of(device: &str) -> String {
    format!("{NOTE_RECEIPT}/{device}")
}

/// A command, and when a page asked for it, ms since the page was opened.
pub type Asked = (Command, f64);

/// What waits for a key to be opened.
pub enum Waiting {
    /// Something to be put on record, and when it was asked for, ms since the page was opened.
    Record(RecordCommand, f64),
    /// Somebody who asks for the opened key; where it is not opened they are dropped.
    Key(oneshot::Sender<Rc<BrowserKey>>),
}

/// Everything the tasks of this page share.
pub struct Client {
    /// What the pages see.
    pub device: Device,
    /// The disk.
    pub store: BrowserStore,
    /// The key of whoever has the phone, while it is open.
    pub key: RefCell<Option<Rc<BrowserKey>>>,
    /// Its chain, open or not.
    pub own: Cell<Option<DeviceId>>,
    /// When the open key is to be put away.
    pub opened: Cell<Option<Opened>>,
    /// What waits for the key to be opened.
    pub waits: RefCell<Option<Waiting>>,
    /// Everybody whose key was ever on this phone.
    pub holders: RefCell<Vec<Holder>>,
    /// The key of somebody who is being enrolled.
    pub new_key: RefCell<Option<Rc<BrowserKey>>>,
    /// The newest trial of a key: its sequence number, and when it was made.
    pub tried: Cell<Option<(DeviceId, u64, i64)>>,
    /// The newest receipt of each of the phone's own chains that was verified.
    pub receipts: RefCell<Receipts>,
    /// The event that was put on record last.
    pub last_press: RefCell<Option<LastPress>>,
    /// Wakes the sync task.
    pub wake: Cell<bool>,
    /// A run is under way: news from the ship, a consent above all, is waited for.
    pub lively: Cell<bool>,
    /// For how long an opened key may lie unused now, ms.
    pub idle_ms: Cell<i64>,
    /// What is put away.
    pub rows: kept::Rows,
}

/// Opens the store and does what pages ask for, for as long as the page lives.
pub async fn run(
    device: Device,
    mut commands: mpsc::UnboundedReceiver<Asked>,
    code: Option<String>,
) {
    device.system.now_ms.set(BrowserClock.now_ms());
    device.system.light.set(light::chosen());
    tabs::follow_worker(device);
    let store = match BrowserStore::open().await {
        Ok(store) => store,
        Err(error) => {
            device
                .identity
                .state
                .set(DeviceState::NoStore(error.to_string()));
            return;
        }
    };
    let client = Rc::new(Client {
        device,
        store,
        key: RefCell::new(None),
        own: Cell::new(None),
        opened: Cell::new(None),
        waits: RefCell::new(None),
        holders: RefCell::new(Vec::new()),
        new_key: RefCell::new(None),
        tried: Cell::new(None),
        receipts: RefCell::new(Receipts::default()),
        last_press: RefCell::new(None),
        wake: Cell::new(true),
        lively: Cell::new(false),
        idle_ms: Cell::new(IDLE_MS),
        rows: kept::Rows::default(),
    });
    session::follow(&client);
    if let Err(error) = client.open(code).await {
        device
            .identity
            .state
            .set(DeviceState::NoStore(error.to_string()));
        return;
    }
    wasm_bindgen_futures::spawn_local(tick(device));
    wasm_bindgen_futures::spawn_local(keep_watch(Rc::clone(&client)));
    wasm_bindgen_futures::spawn_local(people::keep_lock(Rc::clone(&client)));
    wasm_bindgen_futures::spawn_local(sync::run_loop(Rc::clone(&client)));
    wasm_bindgen_futures::spawn_local(photo::keep_sending(Rc::clone(&client)));
    wasm_bindgen_futures::spawn_local(kept::keep(Rc::clone(&client)));
    tabs::follow_other_tabs(Rc::clone(&client));
    while let Some((command, pressed_ms)) = commands.next().await {
        client.execute(command, pressed_ms).await;
    }
}

/// Moves the page's clock once a second.
async fn tick(device: Device) {
    loop {
        sleep(1000).await;
        device.system.now_ms.set(BrowserClock.now_ms());
    }
}

/// Looks after room on the disk, and the sun.
async fn keep_watch(client: Rc<Client>) {
    store::ask_to_persist().await;
    loop {
        let room = store::room().await;
        client.device.system.keeping.update(|keeping| {
            keeping.persistent = room.persistent;
            keeping.low = room.is_low();
        });
        client.look().await;
        client.keep_sun();
        sleep(60_000).await;
    }
}

impl Client {
    /// Reads whose this device is and what has happened aboard.
    async fn open(&self, code: Option<String>) -> Result<(), StoreError> {
        let (ship, kept) = join(self.store.note(NOTE_SHIP), self.store.kept()).await;
        let ship = ship?.and_then(|text| journal::json::read::<ShipCard>(&text).ok());
        let authority = ship.as_ref().and_then(authority);
        if let Some(authority) = authority {
            let ledger = self.ledger_at_start(authority, &kept?).await?;
            self.device.records.ledger.set(Some(ledger));
        }
        // Whoever has the device first: with that the page under way can be worked.
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

    /// Returns the person enrolled here.
    pub fn me(&self) -> Option<Me> {
        match self.device.identity.state.get_untracked() {
            DeviceState::Enrolled(me) => Some(me),
            _ => None,
        }
    }

    /// Returns how far the ship has signed for a chain; 0 if she has not.
    pub fn signed_for(&self, device: DeviceId) -> u64 {
        self.receipts.borrow().signed_for(device)
    }

    /// Returns the phone's own chains: of everybody whose key is or was on it.
    pub fn own_chains(&self) -> Vec<DeviceId> {
        self.holders
            .borrow()
            .iter()
            .filter_map(|one| one.device.parse().ok())
            .collect()
    }

    /// Counts what the ship has not acknowledged, whoever of this device signed it; looks whether a run is worked.
    pub fn count_waiting(&self) {
        let chains = self.own_chains();
        let (waiting, is_working, idle_ms) = self.device.records.ledger.with_untracked(|ledger| {
            ledger.as_ref().map_or((0, false, IDLE_MS), |ledger| {
                let waiting = outbox::waiting(ledger, &chains, |chain| self.signed_for(chain));
                let is_working = outbox::is_working(ledger, BrowserClock.now_ms());
                let idle_ms = lock::idle_ms(&ledger.settings(), is_working);
                (waiting, is_working, idle_ms)
            })
        });
        self.lively.set(is_working);
        self.idle_ms.set(idle_ms);
        let link = self.device.link.state;
        if link.with_untracked(|link| link.waiting != waiting) {
            link.update(|link| link.waiting = waiting);
        }
    }

    /// Takes a receipt up, if it is newer than the one before; says whether it was.
    fn take_receipt(&self, receipt: SignedReceipt) -> bool {
        let is_news = self.receipts.borrow_mut().take(receipt);
        if is_news {
            self.look_at_trial();
        }
        is_news
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

    /// Keeps today's sunrise and sunset for the light that follows the sun.
    pub fn keep_sun(&self) {
        let position = self.device.records.ledger.with_untracked(|ledger| {
            let body = ledger.as_ref()?.particulars()?;
            Some((
                f64::from(body.latitude_e7) / 1e7,
                f64::from(body.longitude_e7) / 1e7,
            ))
        });
        if let Some((latitude, longitude)) = position {
            wasm_bindgen_futures::spawn_local(async move {
                // It is asked for again within a minute.
                let _ = later::keep_sun_at(latitude, longitude).await;
            });
        }
    }
}

/// Reads the key of a ship's authority, if it is the one that names her.
pub fn authority(ship: &ShipCard) -> Option<PublicKey> {
    let bytes = record::hex::decode(&ship.authority)?;
    let key = PublicKey::from_bytes(&bytes).ok()?;
    (key.vessel() == ship.vessel).then_some(key)
}
