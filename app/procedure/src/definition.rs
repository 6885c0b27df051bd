//! A procedure as data: its steps, in their order, with what each waits for and what it allows.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::Decimal;
use crate::ids::{ProcedureHash, Role, StepId};
use crate::kind::Kind;

/// The work in order. Made by [`crate::parse()`], which proves that it holds together.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Procedure {
    #[n(0)]
    pub(crate) slug: String,
    #[n(1)]
    pub(crate) title: String,
    #[n(2)]
    pub(crate) edition: String,
    #[n(3)]
    pub(crate) purpose: String,
    #[n(4)]
    pub(crate) cautions: Vec<String>,
    #[n(5)]
    pub(crate) close_by: Role,
    #[n(6)]
    pub(crate) every: Option<Span>,
    #[n(7)]
    pub(crate) steps: Vec<Step>,
}

impl Procedure {
    /// Returns the identity: SHA-256 over the deterministic CBOR of all that the file says; its layout,
    /// comments and file name do not count.
    pub fn hash(&self) -> ProcedureHash {
        ProcedureHash(Sha256::digest(self.to_cbor()).into())
    }

    /// Returns the canonical form.
    pub fn to_cbor(&self) -> Vec<u8> {
        minicbor::to_vec(self).expect("invariant: writing to memory cannot fail")
    }

    /// Returns the short name, such as `anchors-ready`.
    pub fn slug(&self) -> &str {
        &self.slug
    }

    /// Returns the title.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// Returns the edition as the file's author counts it.
    pub fn edition(&self) -> &str {
        &self.edition
    }

    /// Returns what the procedure is for.
    pub fn purpose(&self) -> &str {
        &self.purpose
    }

    /// Returns the cautions that hold for the whole of it.
    pub fn cautions(&self) -> &[String] {
        &self.cautions
    }

    /// Returns who may close a run of it.
    pub fn close_by(&self) -> Role {
        self.close_by
    }

    /// Returns how often it is due, for a procedure that is a round.
    pub fn every(&self) -> Option<&Span> {
        self.every.as_ref()
    }

    /// Returns the steps in their order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Finds a step by name.
    pub fn step(&self, id: &StepId) -> Option<&Step> {
        self.steps.iter().find(|step| step.id == *id)
    }

    pub(crate) fn index_of(&self, id: &StepId) -> Option<usize> {
        self.steps.iter().position(|step| step.id == *id)
    }
}

/// One step of a procedure.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Step {
    /// Its name within the procedure.
    #[n(0)]
    pub id: StepId,
    /// The part of the work that it belongs to.
    #[n(1)]
    pub section: String,
    /// What to do, in the imperative.
    #[n(2)]
    pub instruction: String,
    /// Why.
    #[n(3)]
    pub why: String,
    /// Where someone can be hurt, or the gear.
    #[n(4)]
    pub cautions: Vec<String>,
    /// What is asked for.
    #[n(5)]
    pub kind: Kind,
    /// Steps that must be done before.
    #[n(6)]
    pub after: Vec<StepId>,
    /// Steps on whose results this one stands: when one of them goes stale or bad, or is answered otherwise, this one is
    /// open again.
    #[n(7)]
    pub stands_on: Vec<StepId>,
    /// What must be so in other runs.
    #[n(8)]
    pub needs: Vec<Need>,
    /// The step belongs to the work only if all of these are so.
    #[n(9)]
    pub when: Vec<Condition>,
    /// Who may do it.
    #[n(10)]
    pub by: Role,
    /// A second person must sign.
    #[n(11)]
    pub second: bool,
    /// Who does this one must be someone other than who did these.
    #[n(12)]
    pub other_than: Vec<StepId>,
    /// How long the result stays good.
    #[n(13)]
    pub good_for: Option<Span>,
    /// Steps whose readings of the same names keep this one's good.
    #[n(14)]
    pub renewed_by: Vec<StepId>,
    /// What a fault does.
    #[n(15)]
    pub on_fault: OnFault,
    /// Who may leave it undone.
    #[n(16)]
    pub skip: Skip,
    /// It is worked also after "stop", and before a run is broken off.
    #[n(17)]
    pub when_stopped: bool,
    /// The gear that it touches, so that open defects of that gear stand on it.
    #[n(18)]
    pub gear: Vec<String>,
    /// How it is done, a line for each part; `None` in procedures that say all of it in the instruction.
    #[n(19)]
    #[serde(default)]
    pub how: Option<Vec<String>>,
    /// The gear that it puts to work: while a defect has that gear out of service, the step waits for the master's word.
    #[n(20)]
    #[serde(default)]
    pub uses: Option<Vec<String>>,
    /// What was found earlier the same day is offered to be confirmed; `None`: it is always found anew.
    #[n(21)]
    #[serde(default)]
    pub again: Option<bool>,
    /// The place of the drawn foredeck that it is about, by its number.
    #[n(22)]
    #[serde(default)]
    pub place: Option<u32>,
    /// The second person may sign later, on a phone of their own: the work does not wait for it, but a hold that stands on
    /// the step does.
    #[n(23)]
    #[serde(default)]
    pub second_later: Option<bool>,
}

impl Step {
    /// Returns how it is done, a line for each part.
    pub fn how(&self) -> &[String] {
        self.how.as_deref().unwrap_or_default()
    }

    /// Returns whether the second person may sign later, while the work goes on.
    pub fn second_may_be_later(&self) -> bool {
        self.second && self.second_later == Some(true)
    }

    /// Returns the gear that it puts to work.
    pub fn uses(&self) -> &[String] {
        self.uses.as_deref().unwrap_or_default()
    }
}

/// One point of a reading.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Point {
    /// Its name within the step.
    #[n(0)]
    pub key: String,
    /// What it is, in words.
    #[n(1)]
    pub label: String,
    /// Unit.
    #[n(2)]
    pub unit: String,
    /// Between which limits it is right.
    #[n(3)]
    pub limits: Limits,
    /// What is called for when the number reaches a mark.
    #[n(4)]
    #[serde(default)]
    pub calls: Option<Vec<Call>>,
    /// It is asked for only on ships where this setting is not 0.
    #[n(5)]
    #[serde(default)]
    pub only_if: Option<String>,
}

/// What is called for from a number on: a wind at which the engines are made ready.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Call {
    /// From this number on.
    #[n(0)]
    pub from: Bound,
    /// What to do then.
    #[n(1)]
    pub say: String,
}

/// Between which limits a number is right. None at all: any number is taken down.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Limits {
    /// At least this.
    #[n(0)]
    pub min: Option<Bound>,
    /// More than this.
    #[n(1)]
    pub above: Option<Bound>,
    /// At most this.
    #[n(2)]
    pub max: Option<Bound>,
    /// Less than this.
    #[n(3)]
    pub below: Option<Bound>,
    /// The number is a date, year, month and day in eight digits, and it is not past.
    #[n(4)]
    #[serde(default)]
    pub not_past: Option<bool>,
}

/// A limit: a number, or where to find it.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Bound {
    /// The number itself.
    #[n(0)]
    Number(#[n(0)] Decimal),
    /// A ship's setting.
    #[n(1)]
    Setting(#[n(0)] String),
    /// A value that was computed for this run.
    #[n(2)]
    Computed(#[n(0)] String),
    /// What this run itself read.
    #[n(3)]
    Read {
        /// At which step.
        #[n(0)]
        step: StepId,
        /// At which of its points.
        #[n(1)]
        point: String,
    },
}

/// A length of time: fixed, or where to find it.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Span {
    /// Milliseconds.
    #[n(0)]
    Fixed(#[n(0)] i64),
    /// A ship's setting, in its own unit of time.
    #[n(1)]
    Setting(#[n(0)] String),
    /// A value that was computed for this run, in its own unit of time.
    #[n(2)]
    Computed(#[n(0)] String),
}

/// What must be so in other runs before a step may be done.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Need {
    /// The other procedure's short name.
    #[n(0)]
    pub procedure: String,
    /// What must be so.
    #[n(1)]
    pub state: NeedState,
}

/// What must be so of another procedure's runs.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum NeedState {
    /// No run of it is open.
    #[n(0)]
    NoneOpen,
    /// One was completed within this time.
    #[n(1)]
    ClosedWithin(#[n(0)] Span),
}

/// A condition on which a step belongs to the work.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Condition {
    /// What was chosen, in a choice step or before the start, is one of these.
    #[n(0)]
    Chosen {
        /// The choice.
        #[n(0)]
        choice: String,
        /// The options.
        #[n(1)]
        is: Vec<String>,
    },
    /// A ship's setting is one of these numbers.
    #[n(1)]
    Setting {
        /// The setting.
        #[n(0)]
        setting: String,
        /// The numbers.
        #[n(1)]
        is: Vec<Decimal>,
    },
    /// The ship's register has an item of that kind of gear, or has none, as the run begins.
    #[n(2)]
    Gear {
        /// The kind's short name.
        #[n(0)]
        kind: String,
        /// It has one.
        #[n(1)]
        has: bool,
    },
}

/// What a fault, or a reading out of limits, does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum OnFault {
    /// Raises a defect; the work goes on.
    #[n(0)]
    Note,
    /// Raises a defect; the work goes on with the officer's recorded reason.
    #[n(1)]
    Officer,
    /// Raises a defect; the work stops until the step is right, this step's and all that follows but what makes safe.
    /// Nobody can override it.
    #[n(2)]
    Stop,
}

/// Who may leave a step undone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum Skip {
    /// Anyone, with a reason.
    #[n(0)]
    Anyone,
    /// The officer, with a reason.
    #[n(1)]
    Officer,
    /// Nobody.
    #[n(2)]
    Never,
}
