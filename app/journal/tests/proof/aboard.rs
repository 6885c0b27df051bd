//! People with devices that work runs, apart or in touch; and everything that a ledger shows, to compare.

use journal::board::{self, Board, Heard, VesselPage};
use journal::body::{Person, VesselBody};
use journal::ledger::Chain;
use journal::memory::{MemoryStore, SetClock, finish};
use journal::{Body, Intent, Ledger, Place, RunId};
use procedure::gear::{DateKind, Day, GearChange, ItemCard, ItemChange, Room};
use procedure::rehearsal::{self, Answers};
use procedure::{ConsentBy, Decimal, End, Event, Outcome, PointView, RunView, Severity, StepView};
use record::{
    Credential, DeviceId, Draft, Envelope, KeyProtection, PersonId, RecordId, SoftKey,
    VerifiedRecord,
};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// When the tests' watch begins, ms UTC.
pub const START_MS: i64 = 1_790_000_000_000;
/// When the states are looked at: after all that happens.
pub const LATER_MS: i64 = START_MS + 8 * 3_600_000;
/// Who is aboard, in the order of their devices: two hands and the officer.
pub const PEOPLE: [(&str, &[&str]); 3] = [
    ("orrin", &["crew"]),
    ("salter", &["crew"]),
    ("thorne", &["crew", "officer"]),
];

pub fn authority() -> SoftKey {
    SoftKey::from_seed([90; 32])
}

pub fn key(device: usize) -> SoftKey {
    SoftKey::from_seed([u8::try_from(device).expect("a small number") + 1; 32])
}

/// An empty ledger of the vessel; reading the library is slow, so it is done once.
pub fn empty() -> Ledger {
    static EMPTY: OnceLock<Ledger> = OnceLock::new();
    EMPTY
        .get_or_init(|| Ledger::new(authority().public()))
        .clone()
}

pub fn credential(device: usize, roles: &[&str]) -> Body {
    credential_between(
        device,
        roles,
        START_MS / 1000 - 86_400,
        START_MS / 1000 + 86_400,
    )
}

/// A credential that is good from one second until another.
pub fn credential_between(
    device: usize,
    roles: &[&str],
    not_before_s: i64,
    expires_s: i64,
) -> Body {
    let (person, _) = PEOPLE[device];
    let credential = Credential {
        vessel: authority().public().vessel(),
        person: PersonId::from(person),
        key: key(device).public(),
        not_before_s,
        expires_s,
        id: None,
        name: person.to_uppercase(),
        rank: "hand".to_owned(),
        roles: roles.iter().map(|role| (*role).to_owned()).collect(),
        protection: KeyProtection::Software,
    };
    let signed = credential
        .sign(&authority())
        .expect("a credential in order");
    Body::Credential(signed.bytes().to_vec())
}

pub fn vessel_body(name: &str) -> Body {
    Body::Vessel(VesselBody {
        name: name.to_owned(),
        particulars: "motor yacht".to_owned(),
        crew: PEOPLE
            .iter()
            .map(|(id, roles)| Person {
                id: (*id).to_owned(),
                name: id.to_uppercase(),
                rank: "hand".to_owned(),
                roles: roles.iter().map(|role| (*role).to_owned()).collect(),
                joins_ms: None,
                leaves_ms: None,
            })
            .collect(),
        latitude_e7: 435_000_000,
        longitude_e7: 70_000_000,
        ashore: None,
    })
}

/// A chain of records under way: one signer with the end of what it has written.
#[derive(Debug)]
struct Pen {
    key: SoftKey,
    author: PersonId,
    store: MemoryStore,
    ledger: Ledger,
}

/// Three devices and the authority, each with a ledger of what has reached it.
#[derive(Debug)]
pub struct Aboard {
    pens: Vec<Pen>,
    pub records: Vec<VerifiedRecord>,
    pub now_ms: i64,
}

/// The authority's place among the pens.
pub const AUTHORITY: usize = 3;

impl Aboard {
    /// Everyone has a credential, and every device knows of all.
    pub fn mustered() -> Self {
        let mut pens: Vec<Pen> = (0..3)
            .map(|device| Pen {
                key: key(device),
                author: PersonId::from(PEOPLE[device].0),
                store: MemoryStore::default(),
                ledger: empty(),
            })
            .collect();
        pens.push(Pen {
            key: authority(),
            author: PersonId::from("ship"),
            store: MemoryStore::default(),
            ledger: empty(),
        });
        let mut aboard = Self {
            pens,
            records: Vec::new(),
            now_ms: START_MS,
        };
        aboard.says(AUTHORITY, None, vessel_body("Aldermere"));
        for (device, (_, roles)) in PEOPLE.iter().enumerate() {
            aboard.says(AUTHORITY, None, credential(device, roles));
        }
        for device in 0..3 {
            aboard.sync(AUTHORITY, device);
        }
        aboard
    }

    /// Puts something on record with that device, on what has reached it.
    pub fn says(&mut self, pen: usize, run: Option<RunId>, body: Body) -> RecordId {
        self.now_ms += 1_000;
        let clock = SetClock::at(self.now_ms);
        let Pen {
            key,
            author,
            store,
            ledger,
        } = &mut self.pens[pen];
        let place = Place::in_ledger(ledger, run, key.device(), self.now_ms);
        let intent = Intent {
            author: author.clone(),
            run,
            body,
            receipt: None,
        };
        let record = finish(journal::write(&*store, &*key, &clock, &place, &intent))
            .expect("memory takes the record");
        ledger.admit_verified(record.clone(), None);
        self.records.push(record.clone());
        record.id()
    }

    /// Starts a run of the library's procedure.
    pub fn starts(&mut self, pen: usize, slug: &str) -> RunId {
        let procedure = self.pens[pen]
            .ledger
            .current(slug)
            .expect("it is in the library");
        let start = Event::Start {
            procedure: procedure.hash(),
            slug: slug.to_owned(),
            choices: Vec::new(),
            remark: String::new(),
        };
        self.says(pen, None, Body::Run(Box::new(start)))
    }

    /// Brings what one device has to another.
    pub fn sync(&mut self, from: usize, to: usize) {
        let entries = self.pens[from].ledger.entries();
        let all: Vec<_> = entries
            .map(|entry| (entry.record.envelope().clone(), None))
            .collect();
        for answer in self.pens[to].ledger.admit_all(all) {
            answer.expect("what one device holds another takes");
        }
    }

    /// What has reached that device.
    pub fn ledger(&self, pen: usize) -> &Ledger {
        &self.pens[pen].ledger
    }

    /// Every record as it travels.
    pub fn envelopes(&self) -> Vec<Envelope> {
        let records = self.records.iter();
        records.map(|record| record.envelope().clone()).collect()
    }

    /// Another record of the number that `record` has, as a copied key would make it.
    pub fn forked(record: &VerifiedRecord, device: usize) -> VerifiedRecord {
        let envelope = record.envelope();
        let draft = Draft {
            time_ms: envelope.time_ms() + 1,
            ..envelope.draft().clone()
        };
        let unsigned = draft.to_be_signed().expect("it was in order before");
        unsigned.sign(&key(device)).expect("its own key")
    }
}

/// The same record with a signature that does not fit: its identity is the same.
pub fn forged(record: &VerifiedRecord) -> Envelope {
    let draft = record.envelope().draft().clone();
    let unsigned = draft.to_be_signed().expect("it was in order before");
    unsigned.seal([0x55; 64])
}

/// One act at a step, chosen by number: what the step asks for, or something that crosses it.
pub fn act(view: &RunView, step: &StepView, newest: Option<[u8; 32]>, choice: u16) -> Event {
    let id = step.id.clone();
    let past = newest.unwrap_or([9; 32]);
    match choice % 16 {
        0 => Event::NotSo {
            step: id,
            severity: Severity::Watch,
            text: "a weep at the joint".to_owned(),
            photo: None,
            terms: None,
        },
        1 => Event::NotDone {
            step: id,
            reason: "no light for it".to_owned(),
        },
        2 => Event::GoOn {
            step: id,
            reason: "seen and accepted".to_owned(),
        },
        3 => Event::StrikeOut {
            event: past,
            reason: "wrong step".to_owned(),
        },
        4 => Event::Second { event: past },
        5 => Event::Stop {
            cause: "man in the way".to_owned(),
        },
        6 => Event::Resume {
            reason: "all clear".to_owned(),
        },
        7 if choice > 60_000 => Event::Close {
            end: End::BrokenOff,
            remark: "weather".to_owned(),
        },
        _ => what_is_asked(view, step, choice),
    }
}

/// Answers that are right at times, by a number that chance gave.
struct Chance(u16);

impl Answers for Chance {
    fn reading(&self, _point: &PointView) -> Decimal {
        let value = ["20.9", "19.5", "0", "4.2"][usize::from(self.0 / 64) % 4];
        value.parse().expect("a number")
    }

    fn option(&self, step: &StepView) -> String {
        let option = usize::from(self.0) % step.options.len();
        step.options[option].key.clone()
    }

    fn count(&self, _step: &StepView, _least: u32) -> u32 {
        u32::from(self.0 % 4)
    }

    fn consent(&self) -> (bool, ConsentBy) {
        let how = if self.0.is_multiple_of(2) {
            ConsentBy::Network
        } else {
            ConsentBy::Radio {
                from: "thorne".into(),
            }
        };
        (self.0.is_multiple_of(3), how)
    }

    fn people(&self) -> (procedure::PersonId, Vec<procedure::PersonId>) {
        ("holt".into(), vec!["salter".into()])
    }
}

/// One of the events that work a step, chosen by number; going in is to the rescue at times.
fn what_is_asked(view: &RunView, step: &StepView, choice: u16) -> Event {
    let mut events = rehearsal::work(view, step, &Chance(choice));
    if events.is_empty() {
        return Event::Done {
            step: step.id.clone(),
            outcome: Outcome::Confirmed,
        };
    }
    let mut event = events.swap_remove(usize::from(choice / 16) % events.len());
    if let Event::In { rescue, .. } = &mut event {
        *rescue = choice.is_multiple_of(5).then_some(true);
    }
    event
}

/// Everything that a ledger shows.
#[derive(PartialEq)]
pub struct Shown {
    board: Board,
    page: VesselPage,
    runs: Vec<Option<board::RunPage>>,
    vector: record::Vector,
    chains: BTreeMap<DeviceId, Chain>,
    roles: Vec<(DeviceId, Vec<String>)>,
    withdrawn: Vec<Option<record::Withdrawal>>,
    settings: procedure::Settings,
    plans: Vec<journal::ledger::PlanEntry>,
    current: Vec<Option<procedure::ProcedureHash>>,
    heads: Vec<Vec<RecordId>>,
    newest: record::Hlc,
    waiting: usize,
    register: procedure::gear::Register,
}

/// A gas meter that is put on the register.
pub fn put_on(code: &str) -> ItemChange {
    let until = Day::parse("2027-01-31").expect("a date");
    ItemChange {
        item: code.to_owned(),
        change: GearChange::PutOn {
            card: ItemCard {
                kind: "gas-meter".to_owned(),
                name: "Gas meter 1".to_owned(),
                side: None,
                room: Room::Store,
                certificate: String::new(),
                serial: "4711".to_owned(),
                dates: vec![(DateKind::CalibratedUntil, until)],
                figures: Vec::new(),
                under: None,
            },
        },
    }
}

pub fn shown(ledger: &Ledger) -> Shown {
    let heard: BTreeMap<DeviceId, Heard> = BTreeMap::new();
    let runs: Vec<RunId> = ledger.runs().keys().copied().collect();
    let slugs = ["anchors-ready", "windlass-weekly"];
    Shown {
        board: board::board(ledger, &heard, LATER_MS),
        page: board::vessel_page(ledger, LATER_MS),
        runs: runs
            .iter()
            .map(|run| board::run_page(ledger, *run, LATER_MS))
            .collect(),
        vector: ledger.vector(),
        chains: ledger.chains().clone(),
        roles: ledger
            .holders()
            .iter()
            .map(|(device, holder)| (*device, holder.credential.roles.clone()))
            .collect(),
        withdrawn: (0..3)
            .map(|device| ledger.withdrawal(key(device).device()).cloned())
            .collect(),
        settings: ledger.settings(),
        plans: ledger.plans().cloned().collect(),
        current: slugs
            .iter()
            .map(|slug| ledger.current(slug).map(|procedure| procedure.hash()))
            .collect(),
        heads: runs
            .iter()
            .map(|run| ledger.heads(Some(*run), key(0).device()))
            .collect(),
        newest: ledger.newest(LATER_MS),
        waiting: ledger.waiting(),
        register: ledger.register().as_ref().clone(),
    }
}

impl Shown {
    /// Says briefly where two states differ; a whole state fills pages.
    fn difference(&self, other: &Self) -> Vec<&'static str> {
        let same = [
            ("board", self.board == other.board),
            ("page", self.page == other.page),
            ("runs", self.runs == other.runs),
            ("vector", self.vector == other.vector),
            ("chains", self.chains == other.chains),
            ("roles", self.roles == other.roles),
            ("withdrawals", self.withdrawn == other.withdrawn),
            ("settings", self.settings == other.settings),
            ("plans", self.plans == other.plans),
            ("current procedures", self.current == other.current),
            ("heads", self.heads == other.heads),
            ("newest stamp", self.newest == other.newest),
            ("waiting", self.waiting == other.waiting),
            ("register", self.register == other.register),
        ];
        same.into_iter()
            .filter_map(|(what, same)| (!same).then_some(what))
            .collect()
    }
}

impl std::fmt::Debug for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("a state")
    }
}

/// Fails with the names of what differs.
#[track_caller]
pub fn assert_same(one: &Shown, other: &Shown) {
    let differs = one.difference(other);
    assert!(
        differs.is_empty() && one == other,
        "these differ: {differs:?}"
    );
}
