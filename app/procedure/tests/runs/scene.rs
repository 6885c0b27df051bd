//! People with devices that work a run, apart or in touch.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use procedure::{
    ConsentBy, Context, Crew, Event, Outcome, PastRun, PersonId, Procedure, RecordedEvent, Refusal,
    Role, Roles, RunState, RunView, Settings, Status, StepId, StepView, check, fold_in,
};

pub const MINUTE: i64 = 60_000;
pub const HOUR: i64 = 60 * MINUTE;

/// Who is aboard: two hands, the officer and the master.
pub const ANA: &str = "ana";
pub const BEN: &str = "ben";
/// Someone without any role.
pub const ZOE: &str = "zoe";
pub const OLGA: &str = "olga";
pub const MAX: &str = "max";

pub fn roles(person: &str) -> Roles {
    match person {
        OLGA => Roles::of(&[Role::Officer]),
        MAX => Roles::of(&[Role::Master]),
        "zoe" => Roles::of(&[Role::OfficeReader]),
        _ => Roles::of(&[Role::Crew]),
    }
}

/// Everyone, aboard for ever.
pub fn crew() -> Crew {
    let mut crew = Crew::default();
    for person in [ANA, BEN, OLGA, MAX, ZOE] {
        crew.add(person.into(), roles(person), (0, 0), (u64::MAX, 0));
    }
    crew
}

/// A run with the devices that work it.
#[derive(Clone)]
pub struct Scene {
    pub procedure: Procedure,
    pub settings: Settings,
    pub crew: Crew,
    pub past: Vec<PastRun>,
    pub gear: Arc<procedure::gear::Register>,
    pub events: Vec<RecordedEvent>,
    pub now: i64,
    /// How far each device's clock is wrong, ms.
    pub clock_error: BTreeMap<u8, i64>,
    heads: BTreeMap<u8, BTreeSet<[u8; 32]>>,
    hlc: BTreeMap<u8, (u64, u32)>,
}

impl Scene {
    pub fn new(procedure: Procedure) -> Self {
        Self {
            procedure,
            settings: Settings::defaults(),
            crew: crew(),
            past: Vec::new(),
            gear: Arc::default(),
            events: Vec::new(),
            now: 1_764_000_000_000,
            clock_error: BTreeMap::new(),
            heads: BTreeMap::new(),
            hlc: BTreeMap::new(),
        }
    }

    pub fn of(text: &str) -> Self {
        let read = procedure::parse("test.toml", text);
        Self::new(read.unwrap_or_else(|mistakes| panic!("{mistakes:#?}")))
    }

    pub fn started(text: &str) -> Self {
        let mut scene = Self::of(text);
        scene.start();
        scene
    }

    pub fn start(&mut self) {
        let event = Event::Start {
            procedure: self.procedure.hash(),
            slug: self.procedure.slug().to_owned(),
            choices: Vec::new(),
            remark: String::new(),
        };
        self.does(1, ANA, event).expect("a run can be started");
    }

    /// Goes back to when there were only so many events, all of one device.
    pub fn cut(&mut self, count: usize) {
        self.events.truncate(count);
        let last = self.events.last().expect("a run has its start");
        self.now = last.at_ms;
        self.heads = BTreeMap::from([(1, BTreeSet::from([last.id]))]);
        self.hlc = BTreeMap::from([(1, last.hlc)]);
    }

    pub fn clock(&self, device: u8) -> i64 {
        self.now + self.clock_error.get(&device).copied().unwrap_or(0)
    }

    /// Writes without asking, as a device would that was not kept from it.
    pub fn writes(&mut self, device: u8, person: &str, event: Event) -> [u8; 32] {
        let mut id = [0; 32];
        let mut seed = self.events.len() as u64 + 1;
        for part in id.chunks_mut(8) {
            // The mixing steps of splitmix64, so that the order of identities tells nothing.
            seed = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
            let mut z = seed;
            z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
            z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
            part.copy_from_slice(&(z ^ (z >> 31)).to_be_bytes());
        }
        let at_ms = self.clock(device);
        let wall = u64::try_from(at_ms).unwrap_or(0);
        let last = self.hlc.get(&device).copied().unwrap_or((0, 0));
        let hlc = if wall > last.0 {
            (wall, 0)
        } else {
            (last.0, last.1 + 1)
        };
        self.hlc.insert(device, hlc);
        let heads = self.heads.entry(device).or_default();
        let parents: Vec<_> = heads.iter().copied().collect();
        *heads = BTreeSet::from([id]);
        self.events.push(RecordedEvent {
            id,
            parents,
            hlc,
            at_ms,
            person: person.into(),
            roles: roles(person),
            judged_at: hlc,
            is_withdrawn: false,
            device: [device; 16],
            event,
        });
        id
    }

    /// Writes if the device allows it, by what that device has seen and its own clock.
    pub fn does(&mut self, device: u8, person: &str, event: Event) -> Result<[u8; 32], Refusal> {
        let state = self.folded(&self.seen_by(device));
        check(
            &state,
            self.clock(device),
            &person.into(),
            roles(person),
            &event,
        )?;
        Ok(self.writes(device, person, event))
    }

    /// Brings what device `from` has to device `to`.
    pub fn sync(&mut self, from: u8, to: u8) {
        let more = self.heads.get(&from).cloned().unwrap_or_default();
        self.heads.entry(to).or_default().extend(more);
        let clock = self.hlc.get(&from).copied().unwrap_or((0, 0));
        let own = self.hlc.entry(to).or_insert((0, 0));
        *own = (*own).max(clock);
    }

    pub fn sync_both(&mut self, a: u8, b: u8) {
        self.sync(a, b);
        self.sync(b, a);
    }

    pub fn seen_by(&self, device: u8) -> Vec<RecordedEvent> {
        let mut wanted: Vec<[u8; 32]> = self
            .heads
            .get(&device)
            .map(|heads| heads.iter().copied().collect())
            .unwrap_or_default();
        let mut seen = BTreeSet::new();
        while let Some(id) = wanted.pop() {
            if seen.insert(id) {
                let event = self.events.iter().find(|event| event.id == id);
                wanted.extend(
                    event
                        .into_iter()
                        .flat_map(|event| event.parents.iter().copied()),
                );
            }
        }
        self.events
            .iter()
            .filter(|event| seen.contains(&event.id))
            .cloned()
            .collect()
    }

    pub fn state(&self) -> RunState {
        self.folded(&self.events)
    }

    fn folded(&self, events: &[RecordedEvent]) -> RunState {
        let context = Context {
            settings: self.settings.clone(),
            crew: Arc::new(self.crew.clone()),
            past: self.past.clone(),
            defects: Vec::new(),
            gear: Arc::clone(&self.gear),
        };
        fold_in(&self.procedure, &context, events)
    }

    pub fn view(&self) -> RunView {
        self.state().view(self.now)
    }

    pub fn view_of(&self, device: u8) -> RunView {
        self.folded(&self.seen_by(device)).view(self.clock(device))
    }

    pub fn step(&self, id: &str) -> StepView {
        step_in(&self.view(), id)
    }

    pub fn status(&self, id: &str) -> Status {
        self.step(id).status
    }
}

pub fn step_in(view: &RunView, id: &str) -> StepView {
    view.steps
        .iter()
        .find(|step| step.id.as_str() == id)
        .unwrap_or_else(|| panic!("no step {id}"))
        .clone()
}

pub fn done(step: &str) -> Event {
    Event::Done {
        step: step.into(),
        outcome: Outcome::Confirmed,
    }
}

pub fn reads(step: &str, point: &str, value: &str) -> Event {
    let value = value.parse().expect("a number");
    Event::Done {
        step: step.into(),
        outcome: Outcome::Reading {
            point: point.into(),
            value,
        },
    }
}

pub fn chooses(step: &str, option: &str) -> Event {
    Event::Done {
        step: step.into(),
        outcome: Outcome::Chosen {
            option: option.into(),
        },
    }
}

pub fn counts(step: &str, count: u32) -> Event {
    Event::Done {
        step: step.into(),
        outcome: Outcome::Counted { count },
    }
}

pub fn consents(step: &str) -> Event {
    Event::Consent {
        step: step.into(),
        granted: true,
        how: ConsentBy::Network,
        words: String::new(),
    }
}

pub fn heard(step: &str, from: &str) -> Event {
    Event::Consent {
        step: step.into(),
        granted: true,
        how: ConsentBy::Radio { from: from.into() },
        words: String::new(),
    }
}

pub fn goes_in(step: &str, who: &str) -> Event {
    Event::In {
        step: step.into(),
        who: PersonId::new(who),
        rescue: None,
    }
}

pub fn goes_to_the_rescue(step: &str, who: &str) -> Event {
    Event::In {
        step: step.into(),
        who: PersonId::new(who),
        rescue: Some(true),
    }
}

pub fn comes_out(step: &str, who: &str) -> Event {
    Event::Out {
        step: step.into(),
        who: PersonId::new(who),
    }
}

pub fn goes_on(step: &str) -> Event {
    Event::GoOn {
        step: StepId::new(step),
        reason: "seen and accepted".into(),
    }
}
