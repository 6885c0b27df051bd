//! The first hour aboard: what is still to be said before the anchors are first made ready with the ship's own gear and
//! limits, in the order in which it is said.

use crate::drills::aboard;
use crate::ledger::Ledger;
use crate::survey::EXPECTED;
use procedure::cable::{BOTH, Side};
use procedure::gear::{ItemSide, kind_name};
use procedure::{SettingGroup, Settings};
use serde::{Deserialize, Serialize};

/// The work that the first hour leads to.
const FIRST_WORK: &str = "anchors-ready";

/// Kinds of gear without which no anchor is made ready. Common practice, no source.
const FIRST_GEAR: [&str; 4] = ["anchor", "windlass", "brake", "chain-stopper"];

/// One part of the first hour, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SetupPart {
    /// The ship's particulars.
    Ship,
    /// Her people and their phones.
    People,
    /// Her gear.
    Gear,
    /// Her cables with their marks.
    Cables,
    /// Her limits.
    Limits,
    /// The first work with all of it.
    Ready,
}

/// What is still to be said.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "is")]
pub enum SetupLack {
    /// What the ship is.
    Particulars,
    /// One person cannot do it alone: a second name is asked for, and consent comes from somebody else.
    SecondPerson,
    /// Somebody aboard has no phone that signs for them.
    NoPhone {
        /// Who, by name.
        who: String,
    },
    /// No item of a kind stands on the register.
    NoItem {
        /// The kind's name.
        kind: String,
    },
    /// A cable is not described.
    NoCable {
        /// Whose.
        side: Side,
    },
    /// Limits of a group that no master has confirmed.
    Limits {
        /// Which group.
        group: SettingGroup,
        /// How many.
        open: usize,
    },
    /// The first work is not done.
    NotReady,
}

/// One part, with what it lacks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetupRow {
    /// Which part.
    pub part: SetupPart,
    /// What it lacks; nothing where it is done.
    pub lacks: Vec<SetupLack>,
    /// What may follow later and holds nothing up.
    #[serde(default)]
    pub later: Vec<SetupLack>,
}

/// The first hour.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetupPage {
    /// The ship's name.
    pub ship: String,
    /// Its parts, in order.
    pub rows: Vec<SetupRow>,
}

impl SetupPage {
    /// Returns how many parts are done.
    pub fn done(&self) -> usize {
        self.rows.iter().filter(|row| row.lacks.is_empty()).count()
    }
}

fn people(ledger: &Ledger, now_ms: i64) -> SetupRow {
    let crew = aboard(ledger, now_ms);
    let has_phone = |id: &str| {
        let mut holders = ledger.holders().iter();
        holders.any(|(device, holder)| {
            holder.credential.person.as_str() == id && ledger.withdrawal(*device).is_none()
        })
    };
    let (with, without): (Vec<_>, Vec<_>) =
        crew.into_iter().partition(|person| has_phone(&person.id));
    let lacking = without
        .into_iter()
        .map(|person| SetupLack::NoPhone { who: person.name });
    let lacking: Vec<SetupLack> = lacking.collect();
    let (mut lacks, mut later) = (Vec::new(), Vec::new());
    match with.len() {
        0 | 1 if lacking.is_empty() => lacks.push(SetupLack::SecondPerson),
        0 | 1 => lacks = lacking,
        _ => later = lacking,
    }
    let part = SetupPart::People;
    SetupRow { part, lacks, later }
}

fn gear(ledger: &Ledger) -> SetupRow {
    let register = ledger.register();
    let is_there = |kind: &&str| register.items().any(|file| file.now().card.kind == *kind);
    // Cables have a part of their own.
    let missing = EXPECTED.iter().filter(|kind| **kind != "cable");
    let missing = missing.filter(|kind| !is_there(kind));
    let (first, later): (Vec<_>, Vec<_>) = missing.partition(|kind| FIRST_GEAR.contains(kind));
    let lacks = |kinds: Vec<&&str>| {
        let lack = |kind: &str| SetupLack::NoItem {
            kind: kind_name(kind).to_owned(),
        };
        kinds.into_iter().map(|kind| lack(kind)).collect()
    };
    SetupRow {
        part: SetupPart::Gear,
        lacks: lacks(first),
        later: lacks(later),
    }
}

/// The cables that lack a description: of each side that has an anchor, of both where no anchor is on the register yet.
fn cables(ledger: &Ledger, settings: &Settings) -> Vec<SetupLack> {
    let register = ledger.register();
    let anchors: Vec<Option<ItemSide>> = register
        .items()
        .filter(|file| file.now().card.kind == "anchor")
        .map(|file| file.now().card.side)
        .collect();
    let has = |side: Side| {
        let is_of = |of: &Option<ItemSide>| of.is_some_and(|of| of.is_of(side));
        anchors.is_empty() || anchors.iter().any(is_of)
    };
    let sides = BOTH.into_iter().filter(|side| has(*side));
    let missing = sides.filter(|side| settings.cables.of(*side).is_none());
    missing.map(|side| SetupLack::NoCable { side }).collect()
}

fn limits(settings: &Settings) -> Vec<SetupLack> {
    let open_in = |group: SettingGroup| {
        let open = settings
            .iter()
            .filter(|(key, set)| SettingGroup::of(key) == group && !set.confirmed);
        open.count()
    };
    let groups = SettingGroup::ALL
        .into_iter()
        .map(|group| (group, open_in(group)));
    let groups = groups.filter(|(_, open)| *open > 0);
    groups
        .map(|(group, open)| SetupLack::Limits { group, open })
        .collect()
}

/// Says whether the first work was ever worked to its end.
fn is_made_ready(ledger: &Ledger) -> bool {
    let is_it = |run: &procedure::PastRun| run.slug == FIRST_WORK && run.completed;
    ledger.past().iter().any(is_it)
}

/// Makes the page of the first hour.
pub fn setup_page(ledger: &Ledger, now_ms: i64) -> SetupPage {
    let body = ledger.particulars();
    let settings = ledger.settings();
    let plain = |part, lacks| SetupRow {
        part,
        lacks,
        later: Vec::new(),
    };
    let is_described = body.is_some_and(|body| !body.particulars.trim().is_empty());
    let when = |is_lacking: bool, lack| if is_lacking { vec![lack] } else { Vec::new() };
    SetupPage {
        ship: body.map(|body| body.name.clone()).unwrap_or_default(),
        rows: vec![
            plain(SetupPart::Ship, when(!is_described, SetupLack::Particulars)),
            people(ledger, now_ms),
            gear(ledger),
            plain(SetupPart::Cables, cables(ledger, &settings)),
            plain(SetupPart::Limits, limits(&settings)),
            plain(
                SetupPart::Ready,
                when(!is_made_ready(ledger), SetupLack::NotReady),
            ),
        ],
    }
}
