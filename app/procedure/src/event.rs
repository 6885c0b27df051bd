//! What can happen in a run. The encoded form is frozen: indices are only ever added.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use crate::Decimal;
use crate::ids::{PersonId, ProcedureHash, Roles, StepId, hex_id, hex_id_option};

mod defect;
mod found;
mod hash_cbor;
mod log;

pub use defect::{DefectChange, DefectTerms, Due, DueEvent, Severity};
pub use found::Found;
pub use log::{Grows, LogEntry, MarkAt};

/// One thing that happened in a run, with who did it, on which device, and what that device had seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RecordedEvent {
    /// Identity of the record that carries the event.
    pub id: [u8; 32],
    /// Identities of the newest events that the device had seen.
    pub parents: Vec<[u8; 32]>,
    /// Hybrid logical clock: wall part in ms UTC, then a counter.
    pub hlc: (u64, u32),
    /// The device's time, ms UTC, as the device had it.
    pub at_ms: i64,
    /// Who signed.
    pub person: PersonId,
    /// The roles which that person's credential gave when signing, whichever of both moments is taken.
    pub roles: Roles,
    /// The earliest moment at which it can have been signed, by the records that were there before it, as far as they
    /// say more than its own stamp.
    pub judged_at: (u64, u32),
    /// The device's key was withdrawn before.
    pub is_withdrawn: bool,
    /// The device that signed.
    pub device: [u8; 16],
    /// What happened.
    pub event: Event,
}

/// What happened.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Event {
    /// A run of a procedure begins and pins the procedure's identity.
    #[n(0)]
    Start {
        /// Identity of the procedure that is worked.
        #[n(0)]
        procedure: ProcedureHash,
        /// The procedure's short name.
        #[n(1)]
        slug: String,
        /// Choices made before the start: name of the choice and what was chosen.
        #[n(2)]
        choices: Vec<(String, String)>,
        /// What the run is for.
        #[n(3)]
        remark: String,
    },
    /// A step, or one reading of it, is done.
    #[n(1)]
    Done {
        /// The step.
        #[n(0)]
        step: StepId,
        /// With what outcome.
        #[n(1)]
        outcome: Outcome,
    },
    /// A step is left undone, with the reason.
    #[n(2)]
    NotDone {
        /// The step.
        #[n(0)]
        step: StepId,
        /// Why.
        #[n(1)]
        reason: String,
    },
    /// What a step asks for is not so: a defect.
    #[n(3)]
    NotSo {
        /// The step.
        #[n(0)]
        step: StepId,
        /// How bad it is.
        #[n(1)]
        severity: Severity,
        /// What is wrong.
        #[n(2)]
        text: String,
        /// SHA-256 of a photograph.
        #[cbor(n(3), with = "minicbor::bytes")]
        #[serde(with = "hex_id_option")]
        photo: Option<[u8; 32]>,
        /// Which item of gear it is about, and who puts it right by when.
        #[n(4)]
        #[serde(default, skip_serializing_if = "Option::is_none")]
        terms: Option<DefectTerms>,
    },
    /// Consent at a hold is given or refused.
    #[n(4)]
    Consent {
        /// The hold.
        #[n(0)]
        step: StepId,
        /// Given, or refused.
        #[n(1)]
        granted: bool,
        /// How it reached the record.
        #[n(2)]
        how: ConsentBy,
        /// Words that came with it.
        #[n(3)]
        words: String,
    },
    /// The officer named in a consent heard by radio says that it was so, or was not.
    #[n(5)]
    Countersign {
        /// The consent.
        #[cbor(n(0), with = "minicbor::bytes")]
        #[serde(with = "hex_id")]
        event: [u8; 32],
        /// It was so, or was not.
        #[n(1)]
        granted: bool,
        /// Words that came with it.
        #[n(2)]
        words: String,
    },
    /// A second person signs for an event.
    #[n(6)]
    Second {
        /// The event.
        #[cbor(n(0), with = "minicbor::bytes")]
        #[serde(with = "hex_id")]
        event: [u8; 32],
    },
    /// A wrong entry is struck out; both stay readable.
    #[n(7)]
    StrikeOut {
        /// The wrong entry.
        #[cbor(n(0), with = "minicbor::bytes")]
        #[serde(with = "hex_id")]
        event: [u8; 32],
        /// Why.
        #[n(1)]
        reason: String,
    },
    /// The officer lets the work go on past a fault, a limit or a step left undone.
    #[n(8)]
    GoOn {
        /// The step.
        #[n(0)]
        step: StepId,
        /// Why.
        #[n(1)]
        reason: String,
    },
    /// An entry in a log, such as the cable log.
    #[n(9)]
    Log {
        /// The step that keeps the log.
        #[n(0)]
        step: StepId,
        /// The entry.
        #[n(1)]
        entry: LogEntry,
    },
    /// A person goes into the space.
    #[n(10)]
    In {
        /// The step that keeps the list.
        #[n(0)]
        step: StepId,
        /// Who.
        #[n(1)]
        who: PersonId,
        /// They are of the rescue team, under breathing apparatus, and go in to a man down: that is written at any
        /// time, whatever keeps others out. A field and not an event of its own, so that older programs that skip
        /// it still count them inside.
        #[n(2)]
        #[serde(default, skip_serializing_if = "Option::is_none")]
        rescue: Option<bool>,
    },
    /// A person has come out of the space.
    #[n(11)]
    Out {
        /// The step that keeps the list.
        #[n(0)]
        step: StepId,
        /// Who.
        #[n(1)]
        who: PersonId,
    },
    /// Stop the work.
    #[n(12)]
    Stop {
        /// The cause.
        #[n(0)]
        cause: String,
    },
    /// The officer lets the work start again after a stop.
    #[n(13)]
    Resume {
        /// Why it may.
        #[n(0)]
        reason: String,
    },
    /// The officer answers a question that the records raised.
    #[n(14)]
    AnswerQuestion {
        /// The question.
        #[n(0)]
        question: String,
        /// The event that stands; none means that the step is to be done again.
        #[cbor(n(1), with = "minicbor::bytes")]
        #[serde(with = "hex_id_option")]
        stands: Option<[u8; 32]>,
        /// Why.
        #[n(2)]
        reason: String,
    },
    /// The run ends.
    #[n(15)]
    Close {
        /// Worked to its end, or broken off.
        #[n(0)]
        end: End,
        /// Remark; the reason when broken off.
        #[n(1)]
        remark: String,
    },
    /// What became of a defect, in this run or a later one.
    #[n(16)]
    Defect {
        /// The event that raised it.
        #[cbor(n(0), with = "minicbor::bytes")]
        #[serde(with = "hex_id")]
        defect: [u8; 32],
        /// What became of it.
        #[n(1)]
        change: DefectChange,
        /// In words.
        #[n(2)]
        text: String,
    },
    /// A person attends at the hatch of a space from now on, in place of whoever did before.
    #[n(17)]
    Attend {
        /// The step that keeps the list.
        #[n(0)]
        step: StepId,
        /// Who.
        #[n(1)]
        who: PersonId,
    },
    /// An officer says that they have seen an alarm. It ends nothing but the wait for somebody to look.
    #[n(18)]
    Acknowledge {
        /// The alarm's kind, as [`crate::AlarmKind::name`] has it: later programs may know others.
        #[n(0)]
        kind: String,
        /// The step that it is about, when there is one.
        #[n(1)]
        step: Option<StepId>,
        /// Since when it stood, ms UTC.
        #[n(2)]
        since_ms: i64,
    },
    /// A message between bow and bridge about the work. It orders nothing, and no step waits for it.
    #[n(19)]
    Message {
        /// The step that it is about, when it is about one.
        #[n(0)]
        step: Option<StepId>,
        /// In words.
        #[n(1)]
        text: String,
        /// SHA-256 of a photograph.
        #[cbor(n(2), with = "minicbor::bytes")]
        #[serde(with = "hex_id_option")]
        photo: Option<[u8; 32]>,
        /// SHA-256 of a voice note.
        #[cbor(n(3), with = "hash_cbor", has_nil)]
        #[serde(default, skip_serializing_if = "Option::is_none")]
        #[serde(with = "hex_id_option")]
        voice: Option<[u8; 32]>,
    },
    /// A person has read a message.
    #[n(20)]
    Read {
        /// The message.
        #[cbor(n(0), with = "minicbor::bytes")]
        #[serde(with = "hex_id")]
        event: [u8; 32],
    },
}

/// With what outcome a step was done.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// It is so.
    #[n(0)]
    Confirmed,
    /// One reading.
    #[n(1)]
    Reading {
        /// Which of the step's points.
        #[n(0)]
        point: String,
        /// What was read.
        #[n(1)]
        value: Decimal,
    },
    /// What was chosen.
    #[n(2)]
    Chosen {
        /// The option's name.
        #[n(0)]
        option: String,
    },
    /// How many.
    #[n(3)]
    Counted {
        /// The number.
        #[n(0)]
        count: u32,
    },
    /// Where, WGS 84.
    #[n(4)]
    Position {
        /// Latitude, degrees, north positive.
        #[n(0)]
        lat_deg: Decimal,
        /// Longitude, degrees, east positive.
        #[n(1)]
        lon_deg: Decimal,
        /// Radius of accuracy in metres as the device gave it; none when typed by hand.
        #[n(2)]
        accuracy_m: Option<Decimal>,
    },
    /// In words.
    #[n(5)]
    Text {
        /// The words.
        #[n(0)]
        text: String,
    },
    /// A photograph.
    #[n(6)]
    Photo {
        /// SHA-256 of the picture's bytes.
        #[cbor(n(0), with = "minicbor::bytes")]
        #[serde(with = "hex_id")]
        hash: [u8; 32],
    },
    /// Which item of gear it is done with.
    #[n(7)]
    Item {
        /// The item's code.
        #[n(0)]
        item: String,
    },
    /// Who takes part.
    #[n(8)]
    Names {
        /// Everyone, once each.
        #[n(0)]
        who: Vec<PersonId>,
    },
    /// What was found of one item of several.
    #[n(9)]
    Each {
        /// The item's code.
        #[n(0)]
        item: String,
        /// What was found.
        #[n(1)]
        found: Found,
    },
}

/// How a consent reached the record.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ConsentBy {
    /// The consenting person signed it.
    #[n(0)]
    Network,
    /// Heard by radio, and written down at the bow.
    #[n(1)]
    Radio {
        /// Who was heard.
        #[n(0)]
        from: PersonId,
    },
}

/// How a run ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum End {
    /// Worked to its end.
    #[n(0)]
    Completed,
    /// Broken off by the officer.
    #[n(1)]
    BrokenOff,
}

impl Event {
    /// Encodes the event as deterministic CBOR.
    pub fn to_cbor(&self) -> Vec<u8> {
        minicbor::to_vec(self).expect("invariant: writing to memory cannot fail")
    }

    /// Decodes an event.
    ///
    /// # Errors
    /// The decoder's error when the bytes are no event that this version knows.
    pub fn from_cbor(bytes: &[u8]) -> Result<Self, minicbor::decode::Error> {
        minicbor::decode(bytes)
    }

    /// Returns whether the event takes one of the rescue team in.
    pub(crate) const fn is_rescue(&self) -> bool {
        matches!(
            self,
            Self::In {
                rescue: Some(true),
                ..
            }
        )
    }

    /// Returns the step that the event is about, when it names one.
    pub fn step(&self) -> Option<&StepId> {
        match self {
            Self::Done { step, .. }
            | Self::NotDone { step, .. }
            | Self::NotSo { step, .. }
            | Self::Consent { step, .. }
            | Self::GoOn { step, .. }
            | Self::Log { step, .. }
            | Self::In { step, .. }
            | Self::Out { step, .. }
            | Self::Attend { step, .. } => Some(step),
            Self::Start { .. }
            | Self::Countersign { .. }
            | Self::Second { .. }
            | Self::StrikeOut { .. }
            | Self::Stop { .. }
            | Self::Resume { .. }
            | Self::AnswerQuestion { .. }
            | Self::Close { .. }
            | Self::Defect { .. }
            | Self::Acknowledge { .. }
            | Self::Message { .. }
            | Self::Read { .. } => None,
        }
    }
}
