//! Choice: choose one of several.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::{KindRules, plain_verdict};
use crate::event::{Event, Outcome};
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::run_at::RunAt;
use crate::view::{RunView, StepView, Verdict};

/// Asks for one of its options.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Choice {
    /// What there is to choose.
    #[n(0)]
    pub options: Vec<ChoiceOption>,
}

/// One thing that can be chosen.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct ChoiceOption {
    /// Its name within the step.
    #[n(0)]
    pub key: String,
    /// In words.
    #[n(1)]
    pub label: String,
    /// Choosing it is like a reading out of limits.
    #[n(2)]
    pub bad: bool,
}

impl KindRules for Choice {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        let mut options: Vec<ChoiceOption> = Vec::new();
        file.each("option", |entry| {
            let key = entry.need_name("key");
            let label = entry.need_text("label");
            let bad = entry.yes_or_no("bad");
            entry.no_others();
            let (Some(key), Some(label)) = (key, label) else {
                return;
            };
            if options.iter().any(|option| option.key == key) {
                entry.mistake_at("key", format!("two options have the key \"{key}\""));
            }
            options.push(ChoiceOption { key, label, bad });
        });
        if options.len() < 2 {
            file.mistake("a choice needs at least two [[step.option]]");
        }
        Some(Self { options })
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::OneOf(&self.options))
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        vec![done(
            step,
            Outcome::Chosen {
                option: answers.option(step),
            },
        )]
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Chosen { option }
            if self.options.iter().any(|known| known.key == *option))
    }

    fn options(&self) -> &[ChoiceOption] {
        &self.options
    }

    fn answer_is_consented_to(&self) -> bool {
        true
    }

    fn verdict(&self, _at: &RunAt<'_>, outcome: &Outcome) -> Verdict {
        let Outcome::Chosen { option } = outcome else {
            return plain_verdict(outcome);
        };
        match self.options.iter().find(|known| known.key == *option) {
            Some(known) => Verdict {
                within: !known.bad,
                words: known.label.clone(),
            },
            None => Verdict {
                within: false,
                words: option.clone(),
            },
        }
    }

    fn contradict(&self, one: &Outcome, other: &Outcome) -> bool {
        one != other
    }
}
