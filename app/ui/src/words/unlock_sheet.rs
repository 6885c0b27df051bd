//! The sentences about keys, PINs, enrolment and a phone's fitness.

use journal::WeakPin;
use journal::pin::{LEAST_DIGITS, MOST_DIGITS};

// the sheet that opens a key
pub const WHO: &str = "Who has this phone?";
pub const WHO_BODY: &str =
    "Choose your name, then type your PIN. What is on the phone can be read without it.";
pub const LOCKED: &str = "locked";
pub const UNLOCKED: &str = "unlocked";
pub const NO_PIN: &str = "no PIN yet";
pub const LOCK_NOW: &str = "Lock now";
pub const ADD_PERSON: &str = "Somebody else: enrol here";
pub const NOT_NOW: &str = "Not now";
pub const SOMEBODY_ELSE: &str = "Somebody else";
pub const PIN_LOST: &str = "PIN lost";
pub const PIN: &str = "PIN";
pub const UNLOCK: &str = "Unlock";
pub const WORKING: &str = "Opening…";
pub const WRONG_PIN: &str = "This is not the PIN.";
pub const ERASE: &str = "Erase";
pub const LOST_HEAD: &str = "A lost PIN cannot be found again";
pub const LOST_BODY: &str = "Nobody can look it up, not even the ship: it is nowhere but in your head. Enrol anew, with a new code from the ship and a new PIN. Everything that you signed stays yours and stays on this phone until the ship has it.";
pub const ENROL_ANEW: &str = "Enrol anew";
pub const BACK_TO_PIN: &str = "Back to the PIN";
pub const NO_PIN_HEAD: &str = "Your key has no PIN yet";
pub const NO_PIN_BODY: &str = "It was made before keys had PINs, and this browser cannot put one around it. It goes on working, for anyone who picks up this phone. Ask for a code and enrol anew when you have time; what you signed stays.";
pub const HAVE_PIN: &str = "Enrol with a PIN";
pub const ONE_PRESS_LOST: &str =
    "Nothing was signed: the phone was opened by somebody else. Press again to sign as yourself.";

/// Asks for the PIN of somebody.
pub fn pin_of(name: &str) -> String {
    format!("{name}: your PIN")
}

/// Says how long the next try has to wait.
pub fn wait(seconds: i64) -> String {
    let span = if seconds >= 60 {
        format!("{} min {:02} s", seconds / 60, seconds % 60)
    } else {
        format!("{seconds} s")
    };
    format!("Too many wrong PINs. Try again in {span}.")
}

/// Says how many digits stand there.
pub fn digits(count: usize) -> String {
    match count {
        0 => "nothing typed".to_owned(),
        1 => "1 digit typed".to_owned(),
        n => format!("{n} digits typed"),
    }
}

/// Says why a PIN is not good enough, and what to do.
pub fn weak(why: WeakPin) -> String {
    match why {
        WeakPin::Short => format!("A PIN has {LEAST_DIGITS} digits or more."),
        WeakPin::Long => format!("A PIN has at most {MOST_DIGITS} digits."),
        WeakPin::NotDigits => "A PIN has digits only.".to_owned(),
        WeakPin::Few => "Too easy to guess: use three different digits or more.".to_owned(),
        WeakPin::Counts => "Too easy to guess: the digits count up or down.".to_owned(),
        WeakPin::Repeats => "Too easy to guess: it says the same twice.".to_owned(),
        WeakPin::Date => "Too easy to guess: it can be read as a date or a year.".to_owned(),
        WeakPin::Usual => "Too easy to guess: it is one that everybody tries first.".to_owned(),
    }
}

// enrolment
pub const ENROL_TITLE: &str = "Enrol on this phone";
pub const ENROL: &str = "Enrol on this phone";
pub const STEP_PHONE: &str = "The phone";
pub const STEP_PIN: &str = "Your PIN";
pub const STEP_AGAIN: &str = "Your PIN again";
pub const STEP_CODE: &str = "The ship's code";
pub const STEP_DONE: &str = "Who you are";
pub const CHOOSE_BODY: &str = "The phone makes a key for you that signs what you tick. Choose a PIN for it: six digits or more, known to you alone. It cannot be found again if you forget it.";
pub const INSTALL_FIRST: &str = "Better first: put this page on the home screen and start it from there. On an iPhone the installed app has a store of its own, and a key made here stays here.";
pub const MAKE_KEY: &str = "Make the key";
pub const MAKING: &str = "Making the key…";
pub const PROVE_BODY: &str = "The key is made, and the page has loaded again. Type the same PIN once more, to see that the phone has kept the key.";
pub const PROVE: &str = "Open the key";
pub const START_OVER: &str = "Start over with another PIN";
pub const CODE: &str = "One-time code";
pub const CODE_BODY: &str = "The master gives out a code for one person, good once and for a short while. Type its eight digits.";
pub const CODE_CAME: &str = "The code came with the picture that you scanned.";
pub const ASK: &str = "Ask the ship";
pub const ASKING: &str = "Asking the ship…";
pub const SHIP_UNREACHED: &str =
    "The ship does not answer. Come into range, then try again. Nothing is lost: the key is kept.";
pub const NEW_SHIP: &str =
    "This ship has no name and no people yet. Whoever holds the first code enrols as her master.";
pub const SHIPS_NAME: &str = "The ship's name";
pub const PARTICULARS: &str = "What she is, for instance 'motor yacht, 49 m'";
pub const MASTERS_NAME: &str = "The master's name";
pub const MASTERS_RANK: &str = "Rank, as shown";
pub const MASTER: &str = "master";
pub const FINGERPRINT: &str = "The ship's fingerprint";
pub const FINGERPRINT_BODY: &str =
    "Compare it once with what the ship's server shows: then no other ship can pass for her.";
pub const TO_DUTY: &str = "Is the phone fit for duty?";
pub const NOT_SECURE: &str = "This address is not secure, so the browser gives no keys here. Open the page by its https address, or by the ship's help page for that.";
pub const NO_KEYS: &str =
    "This browser gives no keys here. Use another browser, not in a private window.";

/// Says who was enrolled.
pub fn you_are(name: &str, rank: &str, ship: &str) -> String {
    format!("You are {name}, {rank}, of {ship}.")
}

// fit for duty
pub const DUTY_TITLE: &str = "Fit for duty";
pub const READY: &str = "Ready for duty";
pub const READY_BODY: &str = "This phone can be taken forward.";
pub const NOT_READY_BODY: &str = "Put right what is marked below while the ship is in range.";
pub const FINE: &str = "fine";
pub const NOT_FINE: &str = "not yet";
pub const LOOK_AGAIN: &str = "Look again";
pub const ALARM_LIMITS: &str = "Alarms sound while the program is in sight and was touched since it was opened, and shake the phone where it can. With the screen dark nothing is heard: the attendant's watch and voice come first.";
pub const TRY_ALARM: &str = "Try the alarm";
pub const ASK_KEEP: &str = "Ask the browser again";
pub const SEND_TRIAL: &str = "Send a test record";
pub const TO_BOW: &str = "To the bow";

/// Says how many lines are not fine.
pub fn not_ready(count: usize) -> String {
    if count == 1 {
        "Not fit for duty yet: 1 thing".to_owned()
    } else {
        format!("Not fit for duty yet: {count} things")
    }
}
