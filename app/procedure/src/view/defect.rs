//! A defect as pages and steps show it.

use serde::{Deserialize, Serialize};

use crate::event::{Due, Severity};
use crate::gear::Day;
use crate::ids::{PersonId, StepId, hex_id, hex_id_option};

/// A defect.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DefectView {
    /// The event that raised it.
    #[serde(with = "hex_id")]
    pub id: [u8; 32],
    /// The procedure in which it was raised.
    pub slug: String,
    /// The step at which it was raised.
    pub step: StepId,
    /// The gear that it touches.
    pub gear: Vec<String>,
    /// The code of the item of gear that it is about.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub item: Option<String>,
    /// By when it must be gone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<Due>,
    /// The master wants it gone by then: past it, its gear is not put to work.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub due_holds: bool,
    /// How bad it is.
    pub severity: Severity,
    /// What is wrong.
    pub text: String,
    /// SHA-256 of a photograph.
    #[serde(with = "hex_id_option")]
    pub photo: Option<[u8; 32]>,
    /// Who raised it.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
    /// It is not closed.
    pub open: bool,
    /// To whom it was handed over.
    pub handed_to: Option<PersonId>,
    /// Until when it is accepted, ms UTC.
    pub accepted_until_ms: Option<i64>,
    /// How the gear may be used meanwhile, in the master's own words; none while no master has accepted the defect.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub restriction: Option<String>,
    /// Until when the master has accepted it, ms UTC.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub restricted_until_ms: Option<i64>,
    /// What became of it, in order.
    pub history: Vec<DefectLine>,
}

impl DefectView {
    /// Returns whether it is one for which gear is not used unless the master accepts it.
    pub fn stops_use(&self) -> bool {
        self.open && self.severity >= Severity::OutOfService
    }

    /// Returns whether the gear may not be used at a moment, ms UTC: out of service, or a danger, or past the day by which
    /// the master wants the defect gone, and no master's restriction in force.
    pub fn keeps_from_use(&self, now_ms: i64) -> bool {
        let is_late = self.open && self.due_holds && self.is_past_due(now_ms);
        let is_stopped = self.stops_use() || is_late;
        is_stopped && self.restricted_until_ms.is_none_or(|until| until <= now_ms)
    }

    /// Returns whether the day is over by whose end it must be gone.
    pub fn is_past_due(&self, now_ms: i64) -> bool {
        matches!(self.due, Some(Due::On { day }) if day < Day::of_ms(now_ms))
    }

    /// Returns whether it is open and the time for which it was accepted is over.
    pub fn is_past_accepted(&self, now_ms: i64) -> bool {
        self.open && self.accepted_until_ms.is_some_and(|until| until <= now_ms)
    }

    /// Returns whether it must be gone before what a procedure does.
    pub fn is_due_before(&self, slug: &str) -> bool {
        matches!(self.due, Some(Due::Before { what }) if self.open && what.is_done_by(slug))
    }
}

/// One line of a defect's history.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DefectLine {
    /// Who.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
    /// What, in words.
    pub words: String,
}
