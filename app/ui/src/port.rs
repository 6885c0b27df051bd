//! What the screen needs of its root: the device's own records, the news from the server, and someone
//! who does what is asked. Pages read signals and ask for acts; they never fetch, store or sign.

mod person;

pub use person::{DeviceUser, Door, Enrolment, Fitness, Keys, Lock, PinAttempt, Stage};

use crate::bridge::plan::draft::Draft;
use crate::parts::Light;
use journal::door::First;
use journal::log::{Checked, Trouble};
use journal::{Board, Ledger, Pin, RunId};
use leptos::prelude::*;
use procedure::Event;
use record::DeviceId;
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Who this device is.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum DeviceState {
    /// The store is still being opened.
    #[default]
    Opening,
    /// The browser gives no store here; why, in words.
    NoStore(String),
    /// Nobody is enrolled on this device.
    Unknown,
    /// Somebody is.
    Enrolled(Me),
}

/// The person enrolled on this device.
#[derive(Debug, Clone, PartialEq)]
pub struct Me {
    /// Identity in records.
    pub person: String,
    /// Name as shown.
    pub name: String,
    /// Rank as shown.
    pub rank: String,
    /// What they may do.
    pub roles: procedure::Roles,
    /// The key.
    pub device: DeviceId,
    /// How the key is kept: `webcrypto` or `software`.
    pub protection: String,
}

/// How it stands between this device and the ship.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Link {
    /// Records that the ship has not acknowledged.
    pub waiting: usize,
    /// When the ship was last heard, ms UTC by this device's clock.
    pub heard_ms: Option<i64>,
    /// Records are travelling now.
    pub busy: bool,
    /// Why the last try failed, in words.
    pub trouble: Option<String>,
    /// Records that the ship refused, and why.
    pub refused: Vec<(String, String)>,
    /// How far this device's clock is ahead of the ship's, ms.
    pub offset_ms: Option<i64>,
}

/// How well the browser keeps what is stored.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a fact of its own, and a page asks for each alone"
)]
pub struct Keeping {
    /// The browser promised not to clear it by itself.
    pub persistent: bool,
    /// Little room is left.
    pub low: bool,
    /// The pages are on the device and start without a network.
    pub offline_ready: bool,
    /// A new version waits to be taken.
    pub update_ready: bool,
}

impl Default for Keeping {
    fn default() -> Self {
        Self {
            persistent: true,
            low: false,
            offline_ready: false,
            update_ready: false,
        }
    }
}

/// A position as the device measured it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fix {
    /// Latitude, degrees, north positive.
    pub lat_deg: f64,
    /// Longitude, degrees, east positive.
    pub lon_deg: f64,
    /// Radius within which the position lies with 95 % confidence, m, as the device says.
    pub accuracy_m: f64,
    /// When it was measured, ms UTC.
    pub at_ms: i64,
}

/// How it stands with a position that was asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Fixing {
    /// None was asked for.
    #[default]
    Idle,
    /// The device is measuring.
    Asked,
    /// It has measured.
    Got(Fix),
    /// It could not; why, in words.
    Failed(String),
}

/// How it stands with a photograph that was taken.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Taking {
    /// None was taken.
    #[default]
    Idle,
    /// It is being made smaller and put on the disk.
    Working,
    /// It is on the disk, under its SHA-256.
    Kept([u8; 32]),
    /// It could not be kept; why, in words.
    Failed(String),
}

/// A photograph as a page can show it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Picture {
    /// Looked for on this device and aboard.
    Looking,
    /// Here, as the address of an image.
    Here(String),
    /// Neither on this device nor aboard yet.
    NotHere,
}

/// What a page may ask for.
#[derive(Debug, Clone)]
pub enum Command {
    /// Make a key behind a PIN; the page loads again, and the PIN is to be typed once more.
    ChoosePin(Pin),
    /// Open the key that was just made.
    ProvePin(Pin),
    /// Have the ship say whose the new key is.
    Enrol {
        /// The one-time code.
        code: String,
        /// The ship's name and the master's, where she has none.
        first: Option<First>,
    },
    /// Take the half-finished enrolment and its key away.
    DropEnrolment,
    /// Open somebody's key with their PIN.
    Unlock {
        /// The key's chain, as hex.
        device: String,
        /// What was typed.
        pin: Pin,
    },
    /// Put the key away, so that nobody signs until a PIN is typed.
    Lock,
    /// Close the sheet that asks for a PIN; what it was asked for is not done.
    NotNow,
    /// Look at the device's fitness again.
    Look,
    /// Put a trial on record, for the ship to acknowledge.
    Trial,
    /// Start a run of a procedure.
    Start {
        /// Which.
        slug: String,
        /// Choices made at the start.
        choices: Vec<(String, String)>,
    },
    /// Put on record that something happened in a run.
    Say {
        /// The run.
        run: RunId,
        /// What happened.
        event: Box<Event>,
    },
    /// Put a plan on record.
    Plan {
        /// What it is for.
        title: String,
        /// The inputs as JSON.
        input_json: String,
        /// The order for the bow, in words.
        order: String,
    },
    /// Put a changed procedure in force for new runs.
    Publish {
        /// File name, for messages about mistakes.
        file: String,
        /// The text.
        text: String,
    },
    /// Put the ship's settings in force, as JSON of [`procedure::Settings`].
    Settings {
        /// The settings.
        json: String,
    },
    /// Put on record that a master has read what is wrong with the log, and why it came about.
    LogRead {
        /// What was read.
        trouble: Box<Trouble>,
        /// Why it came about.
        reason: String,
    },
    /// Measure the position.
    Fix,
    /// Take up the photograph that was chosen in the input of that id.
    TakePhoto {
        /// The input's id.
        input: String,
    },
    /// Look for a photograph, on this device and aboard.
    FindPhoto([u8; 32]),
    /// Say aloud, as far as the device can, that something must be looked at.
    Alert,
    /// Try the ship now.
    Sync,
    /// Watch the ship's board.
    Watch,
    /// Choose the light.
    Light(Light),
    /// Ask the browser again to keep what is stored.
    Persist,
    /// Take the new version that waits.
    TakeUpdate,
    /// The trouble shown has been read.
    Understood,
}

/// The device, as pages see it. Cheap to copy.
#[derive(Debug, Clone, Copy)]
pub struct Device {
    /// The records on this device; none until a vessel is known.
    pub ledger: RwSignal<Option<Ledger>>,
    /// Who this device is.
    pub standing: RwSignal<DeviceState>,
    /// Whose keys are on this device, and whether one is open.
    keys: StoredValue<Keys>,
    /// How it stands with the ship.
    pub link: RwSignal<Link>,
    /// What this device has found out about the log of its ship.
    pub log: RwSignal<Checked>,
    /// How well the browser keeps things.
    pub keeping: RwSignal<Keeping>,
    /// The time, once a second, ms UTC.
    pub now_ms: RwSignal<i64>,
    /// Something is being written; pages that asked for it show so.
    pub saving: RwSignal<bool>,
    /// What went wrong last, in words, until it is understood.
    pub trouble: RwSignal<Option<String>>,
    /// The run that was started last on this device, for the page to go to.
    pub started: RwSignal<Option<RunId>>,
    /// The ship's board as last heard, and whether it is being heard.
    pub board: RwSignal<Option<Board>>,
    /// When the board was last heard, ms UTC by this device's clock.
    pub board_heard_ms: RwSignal<Option<i64>>,
    /// The position that was asked for last.
    pub fix: RwSignal<Fixing>,
    /// The photograph that was taken last.
    pub taking: RwSignal<Taking>,
    /// Photographs by their SHA-256.
    pub pictures: RwSignal<BTreeMap<[u8; 32], Picture>>,
    /// Which light.
    pub light: RwSignal<Light>,
    /// The plan being typed: it stays as long as the program runs, whatever page is shown.
    pub plan: RwSignal<Option<Draft>>,
    /// Does what is asked.
    pub act: Callback<Command>,
}

impl Device {
    /// Makes the signals, with `act` to do what is asked.
    pub fn new(act: Callback<Command>) -> Self {
        Self {
            ledger: RwSignal::new(None),
            standing: RwSignal::new(DeviceState::Opening),
            keys: StoredValue::new(Keys::default()),
            link: RwSignal::new(Link::default()),
            log: RwSignal::new(Checked::default()),
            keeping: RwSignal::new(Keeping::default()),
            now_ms: RwSignal::new(0),
            saving: RwSignal::new(false),
            trouble: RwSignal::new(None),
            started: RwSignal::new(None),
            board: RwSignal::new(None),
            board_heard_ms: RwSignal::new(None),
            fix: RwSignal::new(Fixing::default()),
            taking: RwSignal::new(Taking::default()),
            pictures: RwSignal::new(BTreeMap::new()),
            light: RwSignal::new(Light::default()),
            plan: RwSignal::new(None),
            act,
        }
    }

    /// Asks for something.
    pub fn dispatch(&self, act: Command) {
        self.act.run(act);
    }

    /// Returns what is known of the keys on this device.
    pub fn keys(&self) -> Keys {
        self.keys.get_value()
    }

    /// Returns the person enrolled here, if any.
    pub fn me(&self) -> Option<Me> {
        match self.standing.get() {
            DeviceState::Enrolled(me) => Some(me),
            _ => None,
        }
    }
}

/// Returns the device from the context.
///
/// # Panics
/// If the root has not provided one.
pub fn phone() -> Device {
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
    /// Gets and reads what stands at `path` below `/api/v1/`.
    ///
    /// # Errors
    /// Words for the person who looks at the page.
    pub async fn get<T: DeserializeOwned>(&self, path: String) -> Result<T, String> {
        let text = (self.0)(path).await?;
        serde_json::from_str(&text)
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
/// records only the ship's authority signs.
#[derive(Clone)]
pub struct Sender(pub Arc<dyn Fn(String, String) -> Answer + Send + Sync>);

impl std::fmt::Debug for Sender {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Sender")
    }
}

impl Sender {
    /// Sends JSON to `path` below `/api/v1/`.
    ///
    /// # Errors
    /// Words for the person who waits.
    pub async fn post(&self, path: String, body: String) -> Result<String, String> {
        (self.0)(path, body).await
    }
}

/// Returns the sender from the context.
///
/// # Panics
/// If the root has not provided one.
pub fn sender() -> Sender {
    use_context().expect("invariant: every root provides a sender")
}
