//! The people who share a device: who they are, whose key is open, and how one is enrolled.

use leptos::prelude::*;
use record::DeviceId;

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

/// Whether the key of the person at this device is at hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Lock {
    /// It is wrapped: everything can be read, nothing signed.
    #[default]
    Locked,
    /// It is open: their PIN was typed.
    Open,
    /// It has no PIN: a key of the first version.
    NoPin,
}

/// Somebody whose key is on this device.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DeviceUser {
    /// The key's chain, as hex.
    pub device: String,
    /// Identity in records.
    pub person: String,
    /// Name as shown.
    pub name: String,
    /// Rank as shown.
    pub rank: String,
    /// A PIN opens the key.
    pub has_pin: bool,
    /// The PIN is shorter than their roles ask for.
    pub is_pin_short: bool,
    /// It takes the phone's own lock beside the PIN.
    pub has_phone_lock: bool,
    /// How often a wrong PIN was typed since the last right one.
    pub wrong: u32,
    /// When the PIN may be tried again, ms UTC by this device's clock.
    pub until_ms: i64,
}

/// What the sheet that opens a key shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum UnlockView {
    /// Everybody on this device.
    People,
    /// The PIN of one of them, by their key's chain.
    Pin(String),
    /// What to do where a PIN is lost.
    Lost(String),
    /// Another PIN for the key of one of them.
    Change(String),
    /// The phone's own lock for the key of one of them, to be put on or taken off.
    PhoneLock(String),
}

/// How it stands with a PIN that was typed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum PinAttempt {
    /// None was typed, or it was right.
    #[default]
    Idle,
    /// It is being worked on.
    Working,
    /// It was wrong.
    Wrong,
    /// Something else did not go as it should; what, in words.
    Failed(String),
}

/// How far the enrolment of somebody on this device is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Stage {
    /// The store is still being opened.
    #[default]
    Opening,
    /// A PIN is to be chosen.
    Choose,
    /// A key was made; its PIN is to be typed again.
    Prove,
    /// The key opened and signed; the ship is to be asked.
    Ask,
    /// The ship has said who it is.
    Done,
}

/// The enrolment of somebody on this device.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Enrolment {
    /// How far it is.
    pub stage: Stage,
    /// The address is secure, so that the browser gives keys.
    pub is_secure: bool,
    /// The code that came with the address.
    pub code: String,
    /// When the PIN may be tried again, ms UTC by this device's clock.
    pub until_ms: i64,
}

/// What a device knows of its own fitness.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Fitness {
    /// The page runs as an installed app; none while not looked at.
    pub is_installed: Option<bool>,
    /// The browser promised not to clear the storage.
    pub is_persistent: bool,
    /// Bytes left, where the browser tells.
    pub left_bytes: Option<f64>,
    /// The trial record: none was made, or when.
    pub trial_ms: Option<i64>,
    /// The ship's signed receipt for it has come.
    pub is_trial_back: bool,
}

/// Who the device is, whose keys are on it, and how one is opened. Cheap to copy.
#[derive(Debug, Clone, Copy, Default)]
pub struct IdentitySignals {
    /// Who this device is.
    pub state: RwSignal<DeviceState>,
    /// Whether the key of the person at this device is at hand.
    pub lock: RwSignal<Lock>,
    /// Everybody whose key is on this device.
    pub people: RwSignal<Vec<DeviceUser>>,
    /// The sheet that opens a key, while it is shown.
    pub sheet: RwSignal<Option<UnlockView>>,
    /// How it stands with the PIN that was typed.
    pub attempt: RwSignal<PinAttempt>,
    /// A key can be locked to this device too, as far as the browser says.
    pub can_lock_to_phone: RwSignal<bool>,
    /// The enrolment of somebody on this device.
    pub enrolment: RwSignal<Enrolment>,
    /// What the device knows of its own fitness.
    pub fitness: RwSignal<Fitness>,
    /// The withdrawal of the key of whoever has the device: it signs nothing more.
    pub withdrawn: RwSignal<Option<record::Withdrawal>>,
    /// The page is drawn for somebody of an office; the server says so, a device knows it by its records.
    pub is_ashore: RwSignal<bool>,
}
