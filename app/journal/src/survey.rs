//! The survey pack: what the surveyor will ask for forward, and what of it is missing, from register, rounds, defects and drills.

use crate::drills::drills_page;
use crate::gear::{GearRow, gear_page};
use crate::ledger::Ledger;
use procedure::cable::{BOTH, Side};
use procedure::gear::Service;
use procedure::in_date::DateState;
use procedure::{Due, DueEvent, RoundState};
use serde::{Deserialize, Serialize};

/// A date within so many days is said, so that it does not end on the day of the survey: common practice, no source.
pub const AHEAD_DAYS: i64 = 90;

/// Kinds of gear whose certificate a surveyor reads. Common practice, no source: class and flag say what they want to see.
const CERTIFIED: &[&str] = &[
    "anchor",
    "cable",
    "length",
    "joining-shackle",
    "windlass",
    "chain-stopper",
    "breathing-set",
    "gas-meter",
    "mooring-line",
    "tail",
];

/// Kinds of gear that every ship with anchors has, and that stand on a register which is whole.
pub(crate) const EXPECTED: &[&str] = &[
    "anchor",
    "cable",
    "windlass",
    "brake",
    "chain-stopper",
    "bitter-end",
    "foundation",
    "penetration",
    "enclosed-space",
    "hatch",
    "gas-meter",
    "breathing-set",
    "rescue-line",
    "hydrant",
    "hose",
    "mooring-line",
    "anchor-light",
    "ball",
    "bell",
];

/// What is missing, or will be by the survey.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "is")]
pub enum Lack {
    /// No item of a kind stands on the register.
    NoItem {
        /// The kind's name.
        kind: String,
    },
    /// Nobody has described a cable, so there is no table of its marks.
    NoMarks {
        /// Whose.
        side: Side,
    },
    /// An item has no certificate.
    NoCertificate {
        /// The item's code.
        code: String,
        /// Its name.
        name: String,
    },
    /// An item may not be used, or ends soon.
    Date {
        /// The item's code.
        code: String,
        /// Its name.
        name: String,
        /// Why it may not be used; none where it ends soon.
        because: Option<String>,
        /// In how many days the first of its dates ends.
        days: Option<i64>,
    },
    /// An item is out of service or restricted.
    Service {
        /// The item's code.
        code: String,
        /// Its name.
        name: String,
        /// Out of service, and not restricted.
        is_out: bool,
        /// Why, or how it may be used.
        because: String,
    },
    /// A round is not done.
    Round {
        /// The procedure's short name.
        slug: String,
        /// Its title.
        title: String,
        /// How it stands.
        state: RoundState,
    },
    /// Somebody is not in date.
    Drill {
        /// The procedure's short name.
        slug: String,
        /// Its title.
        title: String,
        /// Who, by name.
        who: String,
        /// How they stand.
        state: DateState,
    },
    /// A defect is open.
    Defect {
        /// What is wrong.
        text: String,
        /// It must be gone before the survey.
        by_survey: bool,
    },
    /// Limits that no master has confirmed.
    Limits {
        /// How many.
        count: usize,
    },
}

/// What a surveyor asks about together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum About {
    /// The register, and what is described.
    Register,
    /// Certificates.
    Certificates,
    /// Dates of tests, calibration and renewal.
    Dates,
    /// Gear that may not be used as it was made to be.
    Service,
    /// Rounds and measurements.
    Rounds,
    /// Drills and inductions.
    Drills,
    /// Defects.
    Defects,
    /// The ship's limits.
    Limits,
}

/// One part of the pack.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SurveyPart {
    /// What it is about.
    pub about: About,
    /// Of how many things it was looked at.
    pub of: usize,
    /// What is missing.
    pub lacks: Vec<Lack>,
}

/// The survey pack.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SurveyPage {
    /// The ship's name.
    pub ship: String,
    /// Its parts, in a surveyor's order.
    pub parts: Vec<SurveyPart>,
    /// When it was looked at, ms UTC.
    pub now_ms: i64,
}

impl SurveyPage {
    /// Returns how many things are missing.
    pub fn missing(&self) -> usize {
        self.parts.iter().map(|part| part.lacks.len()).sum()
    }
}

fn part(about: About, of: usize, lacks: Vec<Lack>) -> SurveyPart {
    SurveyPart { about, of, lacks }
}

/// Says what of an item's dates stands in the way of a survey.
fn date(row: &GearRow) -> Option<Lack> {
    let days = row.first_end.map(|(_, _, days)| days);
    let is_near = days.is_some_and(|days| days <= AHEAD_DAYS);
    let said = row.not_usable.is_some() || is_near;
    said.then(|| Lack::Date {
        code: row.code.clone(),
        name: row.card.name.clone(),
        because: row.not_usable.clone(),
        days,
    })
}

fn service(row: &GearRow) -> Option<Lack> {
    let (is_out, because) = match &row.service {
        Service::Out(because) => (true, because.clone()),
        Service::Restricted(how) => (false, how.clone()),
        Service::In | Service::Off => return None,
    };
    Some(Lack::Service {
        code: row.code.clone(),
        name: row.card.name.clone(),
        is_out,
        because,
    })
}

fn register(ledger: &Ledger, rows: &[GearRow]) -> SurveyPart {
    let register = ledger.register();
    let missing = EXPECTED.iter().filter(|kind| {
        let mut of_kind = rows.iter().filter(|row| row.card.kind == **kind);
        of_kind.next().is_none()
    });
    let missing = missing.map(|kind| Lack::NoItem {
        kind: register.kind_name(kind).to_owned(),
    });
    let cables = ledger.settings().cables;
    let unmarked = BOTH.into_iter().filter(|side| cables.of(*side).is_none());
    let unmarked = unmarked.map(|side| Lack::NoMarks { side });
    let lacks: Vec<Lack> = missing.chain(unmarked).collect();
    part(About::Register, EXPECTED.len() + BOTH.len(), lacks)
}

fn certificates(rows: &[GearRow]) -> SurveyPart {
    let is_asked = |row: &&GearRow| CERTIFIED.contains(&row.card.kind.as_str());
    let asked: Vec<&GearRow> = rows.iter().filter(is_asked).collect();
    let without = asked.iter().filter(|row| row.card.certificate.is_empty());
    let lacks = without.map(|row| Lack::NoCertificate {
        code: row.code.clone(),
        name: row.card.name.clone(),
    });
    part(About::Certificates, asked.len(), lacks.collect())
}

fn rounds(ledger: &Ledger, now_ms: i64) -> SurveyPart {
    let all = ledger.rounds(now_ms);
    let of = all.len();
    let undone = all
        .into_iter()
        .filter(|round| round.state != RoundState::Done);
    let lacks = undone.map(|round| Lack::Round {
        slug: round.slug,
        title: round.title,
        state: round.state,
    });
    part(About::Rounds, of, lacks.collect())
}

fn drills(ledger: &Ledger, now_ms: i64) -> SurveyPart {
    let page = drills_page(ledger, now_ms);
    let of = page.rows.iter().map(|row| row.dates.len()).sum();
    let lacks = page.rows.into_iter().flat_map(|row| {
        let who = row.person.name;
        let not_in = row.dates.into_iter().filter(|date| !date.is_in());
        not_in.map(move |date| Lack::Drill {
            slug: date.slug,
            title: date.title,
            who: who.clone(),
            state: date.state,
        })
    });
    part(About::Drills, of, lacks.collect())
}

fn defects(ledger: &Ledger) -> SurveyPart {
    let all = ledger.defects();
    let of = all.len();
    let open = all.into_iter().filter(|(_, defect)| defect.open);
    let lacks = open.map(|(_, defect)| Lack::Defect {
        by_survey: defect.due
            == Some(Due::Before {
                what: DueEvent::Survey,
            }),
        text: defect.text,
    });
    part(About::Defects, of, lacks.collect())
}

fn limits(ledger: &Ledger) -> SurveyPart {
    let settings = ledger.settings();
    let of = settings.iter().count();
    let count = settings.iter().filter(|(_, set)| !set.confirmed).count();
    let lacks = (count > 0).then_some(Lack::Limits { count });
    part(About::Limits, of, lacks.into_iter().collect())
}

/// Makes the survey pack.
pub fn survey_page(ledger: &Ledger, now_ms: i64) -> SurveyPage {
    let gear = gear_page(ledger, now_ms);
    let rows = &gear.rows;
    let parts = vec![
        register(ledger, rows),
        certificates(rows),
        part(
            About::Dates,
            rows.len(),
            rows.iter().filter_map(date).collect(),
        ),
        part(
            About::Service,
            rows.len(),
            rows.iter().filter_map(service).collect(),
        ),
        rounds(ledger, now_ms),
        drills(ledger, now_ms),
        defects(ledger),
        limits(ledger),
    ];
    SurveyPage {
        ship: gear.ship,
        parts,
        now_ms,
    }
}
