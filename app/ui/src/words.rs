//! Every sentence that a page shows, so that it can be reviewed and translated. The parts' own words stand
//! in `parts/words.rs`, the procedures' in their files.

pub mod door;

pub const NAME: &str = "Clearhawse";
pub const NOT_FOUND: &str = "There is no such page. Go back, or start again from the first page.";
pub const NOT_HERE: &str = "This part of the program is not on this device yet";
pub const NOT_HERE_BODY: &str = "It comes by itself when the ship is in range. Nothing is lost: everything \
    that was shown as done is kept on this device.";
pub const LOAD_ANEW: &str = "Load the page anew";
pub const DEFER: &str = "This is an aid to the work and to its record. The ship's safety management \
    system, the master's orders, local rules and licensed practice come first. When in doubt, stop and \
    ask the officer.";

pub const BOW: &str = "Bow";
pub const BOW_FOR: &str = "Work a procedure, step by step. Needs no network.";
pub const BRIDGE: &str = "Bridge";
pub const BRIDGE_FOR: &str = "What forward is doing now, and what waits for consent.";
pub const OFFICE: &str = "Office";
pub const OFFICE_FOR: &str = "Every vessel's records, checked.";
pub const PLAN: &str = "Plan";

// the bow
pub const BOW_TITLE: &str = "Foredeck";
pub const UNDER_WAY: &str = "Being worked";
pub const START_ONE: &str = "Start a procedure";
pub const NOTHING_OPEN: &str = "Nothing is being worked";
pub const NOTHING_OPEN_BODY: &str =
    "Start a procedure below. It is kept on this phone and goes to the ship when she is in range.";
pub const CLOSED_LATELY: &str = "Closed lately";
pub const OPENING: &str = "Opening the records on this device";
pub const OPENING_BODY: &str = "This takes a moment.";
pub const NO_STORE: &str = "This browser keeps no records here";
pub const NO_RUN: &str = "This run is not on this phone";
pub const NO_RUN_BODY: &str = "It may be on another phone that has not been in range. Go back to the list, or wait until the ship is in range.";
pub const BACK: &str = "Back to the list";
pub const DONE: &str = "Done";
pub const NOT_SO: &str = "Not so";
pub const KEEP_READING: &str = "Keep this reading";
pub const KEEP_READING_OUT: &str = "Keep it, out of limits";
pub const SIGN_SECOND: &str = "Sign as second";
pub const SECOND_WANTED: &str =
    "A second person must look and sign. It cannot be the one who did it.";
pub const CHOOSE_FIRST: &str = "Choose one first.";
pub const TYPE_FIRST: &str = "Type the reading first.";
pub const WRITE_FIRST: &str = "Write it first.";
pub const SAY_WHAT_IS_WRONG: &str = "What is wrong?";
pub const HOW_BAD: &str = "How bad is it?";
pub const RAISE: &str = "Raise the defect";
pub const NOT_DONE_INSTEAD: &str = "Not done, with a reason";
pub const WHY_NOT_DONE: &str = "Why is it not done?";
pub const CANCEL: &str = "Cancel";
pub const HEARD_BY_RADIO: &str = "Consent heard by radio";
pub const NOBODY_MAY_GIVE: &str = "Nobody else aboard may give this consent.";
pub const HEARD_FROM: &str = "Heard from whom?";
pub const GIVE_CONSENT: &str = "Give consent";
pub const REFUSE_CONSENT: &str = "Not yet";
pub const CONSENT_ASKED: &str =
    "Held: wait for consent. It comes here by itself when the ship is in range.";
pub const CLOSE_RUN: &str = "Close this run";
pub const ALL_DONE: &str = "Every step is done";
pub const ALL_DONE_BODY: &str =
    "Hold the key to close the run. It stays readable for as long as records are kept.";
pub const RUN_CLOSED: &str = "This run is closed";
pub const STOP_ALL: &str = "Stop, all stop";
pub const STOP_CAUSE: &str = "Stopped from the bow";
pub const STOPPED: &str = "Work is stopped";
pub const RESUME: &str = "Take the work up again";
pub const OUT_OF_SEQUENCE: &str = "out of sequence";
pub const SPENT: &str = "ended, and nothing waits for it";
pub const GO_ON: &str = "Go on all the same";
pub const GO_ON_REASON: &str = "Why may it go on?";
pub const CLOSE_STEP: &str = "Close this step";
pub const BEGIN: &str = "Begin";
pub const ALARM_SEEN: &str = "Seen";
pub const ROUNDS: &str = "Rounds";
pub const CREW: &str = "Crew";
pub const SETTINGS: &str = "Settings";
pub const ROUNDS_DUE: &str = "Rounds due";
pub const NO_ROUND_DUE: &str = "none overdue";
pub const PROCEDURES: &str = "Procedures";
pub const ORDERS: &str = "The officer's orders";
pub const RESUME_REASON: &str = "Why may the work be taken up again?";
pub const BREAK_OFF: &str = "Break off this run";
pub const BREAK_OFF_REASON: &str = "Why is it broken off?";
pub const ENTRIES: &str = "Written down";
pub const STRIKE_OUT: &str = "Strike out";
pub const STRIKE_REASON: &str = "Why is it wrong?";
pub const WHERE_TO: &str = "More";
pub const ADD_ENTRY: &str = "Add to the log";
pub const THATS_ALL: &str = "That is all";
pub const WHO_GOES_IN: &str = "Who goes in?";
pub const GOES_IN: &str = "Someone goes in";
pub const MAN_DOWN: &str = "Man down: write the rescue team in";
pub const WHO_GOES_TO_RESCUE: &str = "Man down. Who goes in, under breathing apparatus?";
pub const RESCUE_CAUTION: &str = "Raise the alarm first. Nobody goes in without a set on and a line; the attendant never goes in.";
pub const WHO_ATTENDS: &str = "Who attends at the hatch, and does nothing else?";
pub const ATTENDS: &str = "attends at the hatch";
pub const NAME_ATTENDANT: &str = "Name who attends at the hatch";
pub const OTHER_ATTENDANT: &str = "Another takes over at the hatch";
pub const VISITOR: &str = "Someone not in the crew list";
pub const NAME_FIRST: &str = "Press a name, or write one.";
pub const WRITE_NAME: &str = "Put this name down";
pub const READ_AIR: &str = "Read the air where they work";
pub const NEXT_READING: &str = "Next reading";
pub const KEEP_READINGS: &str = "Keep these readings";
pub const KEEP_READINGS_OUT: &str = "Keep them, out of limits";
pub const COMES_OUT: &str = "is out";
pub const EVERYONE_OUT: &str = "Everyone is out";
pub const PHOTO_TAKE: &str = "Take a photograph";
pub const PHOTO_AGAIN: &str = "Take another instead";
pub const PHOTO_WORKING: &str = "Making it smaller and keeping it";
pub const PHOTO_TAKEN: &str = "The photograph just taken";
pub const PHOTO_FIRST: &str =
    "Take the photograph first. Where none can be taken: 'Not so', then 'Not done, with a reason'.";
pub const PHOTO_NOT_HERE: &str = "Photograph not here yet";
pub const PHOTO_LOOKING: &str = "Looking for the photograph";
pub const FIX_TAKE: &str = "Take the phone's fix";
pub const FIX_ASKED: &str = "Waiting for the fix";

/// Says how good a fix is.
pub fn fix_accuracy(metres: f64) -> String {
    format!("By this phone, within {metres:.0} m. Compare it with the ship's receiver.")
}
pub const TAKE_POSITION: &str = "Type the position";

// enrolment
pub const ENROL: &str = "Enrol this phone";
pub const ENROL_FIRST: &str = "Nobody is enrolled on this phone yet";
pub const ENROL_FIRST_BODY: &str =
    "Enrol once, with a code that the master gives out; then the phone works out of range.";
pub const TRY_AGAIN: &str = "Try again";

// the bridge
pub const HOLDS: &str = "Waiting for consent";
pub const RUNS: &str = "Being worked forward";
pub const DEFECTS: &str = "Open defects";
pub const QUESTIONS: &str = "Questions for the officer";
pub const ALARMS: &str = "Alarms";
pub const DEVICES: &str = "Phones";
pub const NOTHING_FORWARD: &str = "Nothing is being worked forward";
pub const NOTHING_FORWARD_BODY: &str = "A run shows here as soon as its first record arrives.";
pub const BOARD_UNREACHED: &str = "The ship's server does not answer";
pub const ENROL_TO_CONSENT: &str = "Enrol this device as an officer to give consent.";
pub const NOT_OFFICER: &str = "Consent is an officer's: you are enrolled without that role.";
pub const STANDS_FIRST: &str = "The first stands";
pub const COUNTERSIGN: &str = "Countersign";
pub const NOT_SAID: &str = "I did not say that";
pub const NOT_SAID_WORDS: &str = "not said by the officer";

// the office
pub const VESSELS: &str = "Vessels";
pub const RUNS_OF: &str = "Runs";
pub const RECORD: &str = "Record";
pub const DOWNLOAD_RECORDS: &str = "Signed records (CBOR sequence)";
pub const DOWNLOAD_TABLE: &str = "Table (CSV)";
pub const PRINT_HINT: &str = "Print this page for paper; it carries its seal.";
pub const LOADING: &str = "Fetching";

/// Says what the seal can and cannot say.
pub const SEAL_SIGNATURES: &str =
    "Every signature verifies under a key that the ship's authority vouches for.";
pub const SEAL_CHAINS: &str = "Every record follows from the one before it in its device's chain.";
pub const SEAL_CLOCK: &str = "Times are the devices' own; where one was ahead by more than two minutes, the line says so. 'Not before' and 'not after' are by the server's clock: when it had signed the receipt that the record names, and when it had the record.";

// the step's sheet
pub const LATITUDE: &str = "Latitude";
pub const LONGITUDE: &str = "Longitude";
pub const DEGREES: &str = "degrees";
pub const MINUTES: &str = "minutes";
pub const NORTH_SOUTH: [&str; 2] = ["N", "S"];
pub const EAST_WEST: [&str; 2] = ["E", "W"];
pub const POSITION_FORM: &str =
    "Type latitude (to 90) and longitude (to 180) as degrees, for instance 43.5001.";
pub const REMARK: &str = "Remark";
pub const CALLED: &str = "Called, all well";

/// Says who attends.
pub fn attends(name: &str) -> String {
    format!("{name} {ATTENDS}.")
}

/// Names one of the rescue team.
pub fn of_the_rescue(name: &str) -> String {
    format!("{name}, rescue team")
}

/// Says how many are inside.
pub fn inside(count: usize) -> String {
    match count {
        0 => "Nobody is inside.".to_owned(),
        1 => "1 is inside.".to_owned(),
        n => format!("{n} are inside."),
    }
}

/// Says how many entries a log has.
pub fn entries(count: usize) -> String {
    match count {
        0 => "No entry yet.".to_owned(),
        1 => "1 entry.".to_owned(),
        n => format!("{n} entries."),
    }
}

// the cable log
pub const MARK_PASSED: &str = "passed";
pub const ALL_HOME: &str = "Anchor home in the hawse";
pub const WHICH_MARK: &str = "Which mark is it?";
pub const ANOTHER_MARK: &str = "Another mark";
pub const WHERE_SEEN: &str = "Seen elsewhere, or half a length more? Say that first.";
pub const BACK_TO_KEYS: &str = "Back";
pub const HALF_MORE: &str = "and a half";
pub const TAKE_BACK: &str = "Strike out the last entry";
pub const TAKEN_BACK: &str = "pressed by mistake";
pub const LEADS: &str = "How it leads";
pub const GROWS: &str = "How it grows";
pub const WEIGHS: &str = "How it weighs";
pub const LOG_CABLE: &str = "Log it";

/// Says how many marks have passed.
pub fn marks_out(passed: Option<f64>) -> String {
    match passed {
        None => "No mark logged yet".to_owned(),
        Some(0.0) => "None at the gypsy yet".to_owned(),
        Some(1.0) => "1 shackle at the gypsy".to_owned(),
        Some(n) => format!("{n} shackles at the gypsy"),
    }
}

/// Names the cable of a side.
pub fn cable_of(side: &str) -> String {
    format!("{CABLE}, {side}")
}

/// Says what the plan orders and how much is to come.
pub fn to_come(ordered: f64, more: f64) -> String {
    format!("{ordered} ordered at the gypsy, {more} to come")
}

/// Says where a mark is seen.
pub fn mark_at(at: procedure::MarkAt) -> &'static str {
    match at {
        procedure::MarkAt::Gypsy => "at the gypsy",
        procedure::MarkAt::OnDeck => "on deck",
        procedure::MarkAt::Hawse => "at the hawse",
        procedure::MarkAt::Water => "at the water",
    }
}

/// Names a mark, and half a length more.
pub fn mark_number(number: i64, is_half: bool) -> String {
    match (number, is_half) {
        (0, true) => "\u{bd}".to_owned(),
        (_, true) => format!("{number}\u{bd}"),
        _ => number.to_string(),
    }
}

/// Says a lead by the clock.
pub fn oclock(hour: u8) -> String {
    format!("{hour} o'clock")
}

/// Says how the cable weighs.
pub fn strain(strain: u8) -> &'static str {
    match strain {
        0 => "slack",
        1 => "light",
        2 => "moderate",
        3 => "heavy",
        _ => "very heavy",
    }
}

// the bridge, more
pub const CABLE: &str = "The cable";
pub const NOT_HEARD_YET: &str = "not heard since the start";
pub const REFUSED_FROM_BRIDGE: &str = "not yet, from the bridge";
pub const ANSWERED_FROM_BRIDGE: &str = "chosen on the bridge";
pub const HEARD_BY_RADIO_AWAITS: &str =
    "The bow heard this consent by radio; it waits to be countersigned.";

/// Says who waits at a hold, since when, and what is open.
pub fn hold_asked(who: &str, clock: &str, ago: &str, defects: usize) -> String {
    let asked = if who.is_empty() {
        format!("Since {clock}, {ago} ago.")
    } else {
        format!("{who} has come to it at {clock}, {ago} ago.")
    };
    match defects {
        0 => asked,
        1 => format!("{asked} 1 defect open."),
        n => format!("{asked} {n} defects open."),
    }
}

// the office, more
pub const VESSEL: &str = "Vessel";
pub const VESSELS_BODY: &str = "Every record is checked again each time it is shown.";
pub const NO_VESSEL: &str = "No vessel's records are here yet";
pub const NO_VESSEL_BODY: &str =
    "They come by themselves once a ship that this office has pinned is in range.";
pub const NO_DEFECT: &str = "none";
pub const CLOSED: &str = "Closed runs";
pub const RECORDS: &str = "Records";
pub const LAST_HEARD: &str = "Newest received";
pub const PROCEDURE: &str = "Procedure";
pub const EVERY_PROCEDURE: &str = "Every procedure";
pub const SHOW: &str = "Show";
pub const NO_RUNS: &str = "No runs to show";
pub const NO_RUNS_BODY: &str = "None has been received, or none fits what was asked for.";
pub const BROKEN_OFF: &str = "broken off";
pub const COMPLETE: &str = "complete";
pub const STILL_OPEN: &str = "still being worked";
pub const STARTED: &str = "Started";
pub const ENDED: &str = "Ended";
pub const RUN: &str = "Run";
pub const WITHOUT_RIGHT: &str = "without the right to it";

/// Says how many defects are open.
pub fn open_defects(count: usize) -> String {
    if count == 1 {
        "1 open defect".to_owned()
    } else {
        format!("{count} open defects")
    }
}

/// Says that numbers in chains were used twice.
pub fn forked(count: usize) -> String {
    format!("{count} record numbers used twice: a key is frozen")
}

/// Says how many records the seal covers.
pub fn seal_count(count: usize) -> String {
    format!("{count} records were checked.")
}

/// Says which record is broken, and how.
pub fn broken_record(seq: u64, device: &str, id: &str, why: &str) -> String {
    format!("Record {seq} of device {device}… ({id}…): {why}.")
}

/// Says when and by what it was checked.
pub fn checked_at(when: &str) -> String {
    format!("Checked {when} by the server that holds the records.")
}

/// Says that a device's clock was ahead.
pub fn clock_ahead(span: &str) -> String {
    format!("device clock at least {span} ahead")
}

/// Says between which times of the server's clock a record was made, as far as its receipts tell.
pub fn bounds(not_before_ms: Option<i64>, not_after_ms: Option<i64>) -> Option<String> {
    let at = |ms| crate::time::date_clock_s(ms);
    match (not_before_ms, not_after_ms) {
        (None, None) => None,
        (None, Some(after)) => Some(format!("Not after {}.", at(after))),
        (Some(before), None) => Some(format!("Not before {}.", at(before))),
        (Some(before), Some(after)) => Some(format!(
            "Not before {}, not after {}.",
            at(before),
            at(after)
        )),
    }
}

/// Says who struck an entry out, and why.
pub fn struck(by: &str, why: &str) -> String {
    format!("Struck out by {by}: {why}")
}

/// Names a record shortly.
pub fn record_name(id: &str, seq: u64) -> String {
    format!("record {seq}, {id}…")
}

/// Says how the cable grows.
pub fn grows(grows: procedure::Grows) -> &'static str {
    use procedure::Grows;
    match grows {
        Grows::UpAndDown => "up and down",
        Grows::ShortStay => "short stay",
        Grows::Medium => "medium",
        Grows::LongStay => "long stay",
        Grows::Slack => "slack",
        Grows::UnderTheBow => "under the bow",
        Grows::Aweigh => "aweigh",
    }
}

/// Says how bad a defect is.
pub fn severity(severity: procedure::Severity) -> &'static str {
    use procedure::Severity;
    match severity {
        Severity::Watch => "Watch it",
        Severity::Restricted => "Use with care only",
        Severity::OutOfService => "Out of service",
        Severity::Danger => "Danger to people",
    }
}

/// Says that what stands in a field is no number.
pub fn no_number(label: &str) -> String {
    format!("{label}: what is typed is no number.")
}
