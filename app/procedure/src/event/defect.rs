//! What is said of defects.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use crate::gear::Day;
use crate::ids::PersonId;

/// How bad a defect is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// To be watched.
    #[n(0)]
    Watch,
    /// The gear may be used with restrictions.
    #[n(1)]
    Restricted,
    /// The gear is out of service.
    #[n(2)]
    OutOfService,
    /// People are in danger.
    #[n(3)]
    Danger,
}

/// Which item of gear a defect is about, and who puts it right by when.
#[derive(Debug, Clone, PartialEq, Eq, Default, Encode, Decode, Serialize, Deserialize)]
pub struct DefectTerms {
    /// The item's code; none where it is about no item.
    #[n(0)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub item: Option<String>,
    /// Who puts it right.
    #[n(1)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub owner: Option<PersonId>,
    /// By when it must be gone.
    #[n(2)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub due: Option<Due>,
}

/// By when a defect must be gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Due {
    /// By the end of a day.
    #[n(0)]
    On {
        /// The day.
        #[n(0)]
        day: Day,
    },
    /// Before something is done.
    #[n(1)]
    Before {
        /// What.
        #[n(0)]
        what: DueEvent,
    },
}

/// Before what a defect must be gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum DueEvent {
    /// She is launched.
    #[n(0)]
    Launch,
    /// She anchors next.
    #[n(1)]
    Anchoring,
    /// Somebody next enters the space.
    #[n(2)]
    Entry,
    /// The next survey.
    #[n(3)]
    Survey,
}

impl DueEvent {
    /// Every event, in order.
    pub const ALL: [Self; 4] = [Self::Launch, Self::Anchoring, Self::Entry, Self::Survey];

    /// Returns whether a procedure, by its short name, leads to it.
    pub fn is_done_by(self, slug: &str) -> bool {
        match self {
            Self::Launch => slug == "before-launch",
            Self::Anchoring => matches!(
                slug,
                "anchors-ready" | "letting-go" | "stern-to-ground-lines"
            ),
            Self::Entry => slug == "locker-entry",
            Self::Survey => slug == "survey-pack",
        }
    }
}

/// What became of a defect.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DefectChange {
    /// Something more is known.
    #[n(0)]
    Noted,
    /// Handed over to someone to put right.
    #[n(1)]
    HandedOver {
        /// To whom.
        #[n(0)]
        to: PersonId,
    },
    /// Accepted for a time, with what may be done meanwhile.
    #[n(2)]
    Accepted {
        /// Until when, ms UTC.
        #[n(0)]
        until_ms: i64,
    },
    /// Put right and tried.
    #[n(3)]
    Closed,
    /// It must be gone by then.
    #[n(4)]
    Due {
        /// By when.
        #[n(0)]
        due: Due,
    },
}
