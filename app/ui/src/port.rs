//! What the screen needs of its root: the device's own records, the news from the server, and someone
//! who does what is asked. Pages read signals and dispatch commands; they never fetch, store or sign.
//!
//! Signals and commands fall into the five concerns that they serve: identity, records, the link to the ship,
//! media, and the system that the device is.

mod command;
mod identity;
mod link;
mod media;
mod system;

pub use command::{Command, KeyCommand, LinkCommand, MediaCommand, RecordCommand, SystemCommand};
pub use identity::{
    DeviceState, DeviceUser, Enrolment, Fitness, IdentitySignals, Lock, Me, PinAttempt, Stage,
    UnlockView,
};
pub use link::{Link, LinkSignals};
pub use media::{Fix, Fixing, MediaSignals, Picture, Speaking, Taking};
pub use system::{Keeping, SystemSignals};

use crate::bridge::plan::draft::Draft;
use journal::address::{Json, Nothing, Url};
use journal::{Ledger, RunId};
use leptos::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::sync::Arc;

/// The records on the device, as pages see them, and what is being put on record. Cheap to copy.
#[derive(Debug, Clone, Copy, Default)]
pub struct RecordSignals {
    /// The records on this device; none until a vessel is known.
    pub ledger: RwSignal<Option<Ledger>>,
    /// How many records, or closed runs, are still to be read again; 0 as a rule.
    pub unread: RwSignal<usize>,
    /// Something is being written; pages that asked for it show so.
    pub saving: RwSignal<bool>,
    /// What went wrong last, in words, until it is understood.
    pub trouble: RwSignal<Option<String>>,
    /// The run that was started last on this device, for the page to go to.
    pub started: RwSignal<Option<RunId>>,
    /// The plan being typed: it stays as long as the program runs, whatever page is shown.
    pub plan: RwSignal<Option<Draft>>,
    /// A plan that was being typed when the page was started, as text.
    pub kept_plan: RwSignal<Option<String>>,
}

/// The device, as pages see it. Cheap to copy.
#[derive(Debug, Clone, Copy)]
pub struct Device {
    /// Who this device is, whose keys are on it, and whether one is open.
    pub identity: IdentitySignals,
    /// The records on this device.
    pub records: RecordSignals,
    /// How it stands with the ship.
    pub link: LinkSignals,
    /// Position and photographs.
    pub media: MediaSignals,
    /// Time, light and storage.
    pub system: SystemSignals,
    act: Callback<Command>,
}

impl Device {
    /// Makes the signals, with `act` to do what is asked.
    pub fn new(act: Callback<Command>) -> Self {
        Self {
            identity: IdentitySignals::default(),
            records: RecordSignals::default(),
            link: LinkSignals::default(),
            media: MediaSignals::default(),
            system: SystemSignals::default(),
            act,
        }
    }

    /// Asks for something.
    pub fn dispatch(&self, command: impl Into<Command>) {
        self.act.run(command.into());
    }

    /// Says whether this is the house of an office ashore: people, and no ship of their own.
    pub fn is_ashore(&self) -> bool {
        let by_records = self.records.ledger.with(|ledger| {
            let body = ledger.as_ref().and_then(Ledger::particulars);
            body.is_some_and(journal::VesselBody::is_ashore)
        });
        by_records || self.identity.is_ashore.get()
    }

    /// Returns the person enrolled here, if any.
    pub fn me(&self) -> Option<Me> {
        match self.identity.state.get() {
            DeviceState::Enrolled(me) => Some(me),
            _ => None,
        }
    }
}

/// Returns the device from the context.
///
/// # Panics
/// If the root has not provided one.
pub fn device() -> Device {
    use_context().expect("invariant: every root provides the device")
}

/// An answer that is on its way.
pub type Answer = std::pin::Pin<Box<dyn Future<Output = Result<String, String>> + Send>>;

/// Where pages of the bridge and the office get what they show: the server itself while it draws a page,
/// and its HTTP interface in the browser.
#[derive(Clone)]
pub struct Source(pub Arc<dyn Fn(String) -> Answer + Send + Sync>);

impl std::fmt::Debug for Source {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Source")
    }
}

impl Source {
    /// Gets and reads what stands at an address.
    ///
    /// # Errors
    /// Words for the person who looks at the page.
    pub async fn get<T: DeserializeOwned>(
        &self,
        address: Url<Nothing, Json<T>>,
    ) -> Result<T, String> {
        self.read(address.into_string()).await
    }

    /// The same, where a page keeps the address as text to know when to ask again.
    pub(crate) async fn read<T: DeserializeOwned>(&self, path: String) -> Result<T, String> {
        let text = (self.0)(path).await?;
        journal::json::read(&text)
            .map_err(|error| format!("the server's answer cannot be read: {error}"))
    }
}

/// Returns the source from the context.
///
/// # Panics
/// If the root has not provided one.
pub fn source() -> Source {
    use_context().expect("invariant: every root provides a source")
}

/// Sends what a master changes at the server itself, and brings its answer; the crew above all, whose
/// records only the ship's authority signs. The key that is open signs the request: where it is put away the PIN is
/// asked for first.
#[derive(Clone)]
pub struct Sender(pub Arc<dyn Fn(String, String) -> Answer + Send + Sync>);

impl std::fmt::Debug for Sender {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Sender")
    }
}

impl Sender {
    /// Sends a change to an address, and reads what comes back.
    ///
    /// # Errors
    /// Words for the person who waits.
    pub async fn post<Q: Serialize, A: DeserializeOwned>(
        &self,
        address: Url<Json<Q>, Json<A>>,
        change: &Q,
    ) -> Result<A, String> {
        let body = serde_json::to_string(change).map_err(|error| error.to_string())?;
        let text = (self.0)(address.into_string(), body).await?;
        journal::json::read(&text)
            .map_err(|error| format!("the server's answer cannot be read: {error}"))
    }
}

/// Returns the sender from the context.
///
/// # Panics
/// If the root has not provided one.
pub fn sender() -> Sender {
    use_context().expect("invariant: every root provides a sender")
}
