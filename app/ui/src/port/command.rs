//! What a page may ask of its root, by the concern that it serves.

use crate::parts::Light;
use journal::auth_messages::FirstMaster;
use journal::log::Trouble;
use journal::watch::WatchBody;
use journal::{Pin, RunId};
use procedure::Event;
use procedure::gear::ItemChange;

/// What a page may ask for.
#[derive(Debug, Clone)]
pub enum Command {
    /// About keys and people.
    Key(KeyCommand),
    /// To put something on record: a key has to sign.
    Record(RecordCommand),
    /// About the ship.
    Link(LinkCommand),
    /// About position, photographs and sound.
    Media(MediaCommand),
    /// About the device itself.
    System(SystemCommand),
}

impl From<KeyCommand> for Command {
    fn from(command: KeyCommand) -> Self {
        Self::Key(command)
    }
}

impl From<RecordCommand> for Command {
    fn from(command: RecordCommand) -> Self {
        Self::Record(command)
    }
}

impl From<LinkCommand> for Command {
    fn from(command: LinkCommand) -> Self {
        Self::Link(command)
    }
}

impl From<MediaCommand> for Command {
    fn from(command: MediaCommand) -> Self {
        Self::Media(command)
    }
}

impl From<SystemCommand> for Command {
    fn from(command: SystemCommand) -> Self {
        Self::System(command)
    }
}

/// What concerns keys and the people who have them.
#[derive(Debug, Clone)]
pub enum KeyCommand {
    /// Make a key behind a PIN; the page loads again, and the PIN is to be typed once more.
    ChoosePin(Pin),
    /// Open the key that was just made.
    ProvePin(Pin),
    /// Have the ship say whose the new key is.
    Enrol {
        /// The one-time code.
        code: String,
        /// The ship's name and the master's, where she has none.
        first: Option<FirstMaster>,
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
    /// Put somebody's key behind another PIN.
    ChangePin {
        /// The key's chain, as hex.
        device: String,
        /// What opens it now.
        old: Pin,
        /// What is to open it.
        new: Pin,
    },
    /// Find out whether a key can be locked to this phone.
    LookForPhoneLock,
    /// Lock somebody's key to this phone too, beside its PIN, or take that off again.
    SetPhoneLock {
        /// The key's chain, as hex.
        device: String,
        /// What opens it.
        pin: Pin,
        /// Whether it is to be locked so.
        is_wanted: bool,
    },
    /// Put the key away, so that nobody signs until a PIN is typed.
    Lock,
    /// Close the sheet that asks for a PIN; what it was asked for is not done.
    NotNow,
}

/// What is to be put on record. Each of these waits for the PIN while the key is put away.
#[derive(Debug, Clone)]
pub enum RecordCommand {
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
    /// The same of several things that one press says, one after the other, each with its run.
    SayAll(Vec<(RunId, Event)>),
    /// Put a plan on record.
    Plan {
        /// What it is for.
        title: String,
        /// The inputs as JSON.
        input_json: String,
        /// The order for the bow, in words.
        order: String,
        /// Why it is signed although some of its own checks fail.
        reason: Option<String>,
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
    /// Put on record what became of items of the ship's gear.
    Gear {
        /// What is said of which items.
        changes: Vec<ItemChange>,
        /// Why.
        reason: String,
    },
    /// Put on record what somebody says of the anchor watch.
    Watch(Box<WatchBody>),
    /// Put kinds of gear of the ship's own in force.
    GearKinds {
        /// Their text.
        text: String,
    },
    /// Put on record that a master has read what is wrong with the log, and why it came about.
    LogRead {
        /// What was read.
        trouble: Box<Trouble>,
        /// Why it came about.
        reason: String,
    },
}

/// What concerns the ship.
#[derive(Debug, Clone, Copy)]
pub enum LinkCommand {
    /// Try the ship now.
    Sync,
    /// Watch the ship's board.
    Watch,
    /// Listen to the anchor watch, or no longer: as many times as it was asked for.
    AnchorWatch(bool),
}

/// What concerns position, photographs and sound.
#[derive(Debug, Clone)]
pub enum MediaCommand {
    /// Measure the position.
    Fix,
    /// Take up the photograph that was chosen in the input of that id.
    TakePhoto {
        /// The input's id.
        input: String,
    },
    /// Read the text of the file that was chosen in the input of that id.
    ReadText {
        /// The input's id.
        input: String,
    },
    /// Turn the microphone on for a voice note, or off when it has been spoken.
    Speak(bool),
    /// Look for a photograph or a voice note, on this device and aboard.
    FindPhoto([u8; 32]),
    /// Say aloud, as far as the device can, that something must be looked at.
    Alert,
}

/// What concerns the device itself.
#[derive(Debug, Clone)]
pub enum SystemCommand {
    /// Look at the device's fitness again.
    Look,
    /// Choose the light.
    Light(Light),
    /// Keep the screen from going dark, or let it again.
    StayAwake(bool),
    /// Ask the browser again to keep what is stored.
    Persist,
    /// Take the new version that waits.
    TakeUpdate,
    /// Keep a plan that is being typed, as text, over a start of the page; or keep none.
    KeepPlan(Option<String>),
    /// Read a closed run back that is put away, since somebody looks at it.
    ReadRun(RunId),
    /// The trouble shown has been read.
    Understood,
}
