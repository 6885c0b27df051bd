//! Questions that the records raise, and that an officer answers.

use crate::ids::{StepId, hex};

/// What a question is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum About {
    /// Two devices, apart, found differently.
    Contradiction,
    /// A step was done before what it waits for.
    Sequence,
}

impl About {
    const fn name(self) -> &'static str {
        match self {
            Self::Contradiction => "contradiction",
            Self::Sequence => "sequence",
        }
    }

    pub fn of(id: &str) -> Option<Self> {
        let name = id.split(':').next()?;
        [Self::Contradiction, Self::Sequence]
            .into_iter()
            .find(|about| about.name() == name)
    }
}

/// Names a question by what it is about, so that every device finds the same name.
pub(crate) fn name(about: About, step: &StepId, events: &[&[u8; 32]]) -> String {
    let mut digits: Vec<String> = events.iter().map(|id| short(id)).collect();
    digits.sort_unstable();
    format!("{}:{step}:{}", about.name(), digits.join(":"))
}

/// Returns the step that a question is about.
pub(crate) fn step(id: &str) -> Option<StepId> {
    id.split(':').nth(1).map(StepId::new)
}

/// Returns whether a question is about an event.
pub(crate) fn mentions(id: &str, event: &[u8; 32]) -> bool {
    let digits = short(event);
    id.split(':').skip(2).any(|part| part == digits)
}

/// Enough of an identity to tell the events of one run apart.
fn short(id: &[u8; 32]) -> String {
    hex(&id[..16])
}
