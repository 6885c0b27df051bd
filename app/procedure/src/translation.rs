//! A procedure's texts in another language: a second text, bound to the procedure by its identity. What is
//! done, by whom and within which limits stands in the procedure alone; a translation cannot change it.

use crate::definition::{Procedure, Step};
use crate::ids::{ProcedureHash, StepId};
use serde::Deserialize;
use std::collections::BTreeMap;
use std::fmt;

/// The texts of one procedure in one language.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Translation {
    /// The identity of the procedure that it translates.
    pub of: ProcedureHash,
    /// The language's tag, such as `de`.
    pub language: String,
    /// The title.
    pub title: String,
    /// What it is for.
    pub purpose: String,
    /// Its cautions, as many as the procedure has and in its order.
    #[serde(default)]
    pub cautions: Vec<String>,
    /// The texts of each step, by its id.
    #[serde(rename = "step")]
    pub steps: BTreeMap<String, StepTexts>,
}

/// The texts of one step.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StepTexts {
    /// What to do, in the imperative.
    #[serde(rename = "do")]
    pub instruction: String,
    /// Why; empty where the step says none.
    #[serde(default)]
    pub why: String,
    /// How it is done, as many lines as the step has and in its order.
    #[serde(default)]
    pub how: Vec<String>,
    /// Where someone can be hurt, as many as the step has and in its order.
    #[serde(default)]
    pub cautions: Vec<String>,
    /// What each option is called, by its key.
    #[serde(default, rename = "option")]
    pub options: BTreeMap<String, String>,
    /// What each reading is called, by its key.
    #[serde(default, rename = "point")]
    pub points: BTreeMap<String, String>,
}

/// What keeps a file from being the translation of a procedure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum TranslationFault {
    /// The file cannot be read.
    #[error("{0}")]
    Unreadable(String),
    /// It translates another procedure, or another edition of it.
    #[error("it translates the procedure {of}, and this one is {is}")]
    OtherProcedure {
        /// The one that it names.
        of: ProcedureHash,
        /// The one that it was held against.
        is: ProcedureHash,
    },
    /// It has no text for something, or an empty one.
    #[error("{0} is missing")]
    Missing(TextPart),
    /// It has a text for something that the procedure has not.
    #[error("{0} is unknown")]
    Unknown(TextPart),
}

/// A part of a procedure that has a text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TextPart {
    /// The title.
    Title,
    /// What it is for.
    Purpose,
    /// One of the procedure's cautions, counted from 1.
    Caution(usize),
    /// A step as a whole.
    Step(String),
    /// What to do at a step.
    Instruction(StepId),
    /// Why it is done.
    Why(StepId),
    /// One line of how it is done, counted from 1.
    How(StepId, usize),
    /// One of a step's cautions, counted from 1.
    StepCaution(StepId, usize),
    /// An option of a step, by its key.
    Choice(StepId, String),
    /// A reading of a step, by its key.
    Point(StepId, String),
}

impl fmt::Display for TextPart {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Title => f.write_str("the title"),
            Self::Purpose => f.write_str("the purpose"),
            Self::Caution(at) => write!(f, "caution {at}"),
            Self::Step(id) => write!(f, "step '{id}'"),
            Self::Instruction(id) => write!(f, "step '{id}': what to do"),
            Self::Why(id) => write!(f, "step '{id}': why"),
            Self::How(id, at) => write!(f, "step '{id}': how, line {at}"),
            Self::StepCaution(id, at) => write!(f, "step '{id}': caution {at}"),
            Self::Choice(id, key) => write!(f, "step '{id}': option '{key}'"),
            Self::Point(id, key) => write!(f, "step '{id}': reading '{key}'"),
        }
    }
}

impl Translation {
    /// Reads a translation's file and holds it against the procedure.
    ///
    /// # Errors
    /// Each thing that is wrong with it: a step, caution, option or reading that it lacks, or that the procedure lacks.
    pub fn read(text: &str, procedure: &Procedure) -> Result<Self, Vec<TranslationFault>> {
        let read: Self = toml::from_str(text)
            .map_err(|error| vec![TranslationFault::Unreadable(error.to_string())])?;
        let faults = read.faults(procedure);
        if faults.is_empty() {
            Ok(read)
        } else {
            Err(faults)
        }
    }

    /// Returns the texts of a step.
    pub fn step(&self, id: &StepId) -> Option<&StepTexts> {
        self.steps.get(id.as_str())
    }

    fn faults(&self, procedure: &Procedure) -> Vec<TranslationFault> {
        let is = procedure.hash();
        if self.of != is {
            return vec![TranslationFault::OtherProcedure { of: self.of, is }];
        }
        let mut faults = Vec::new();
        text(
            procedure.title(),
            &self.title,
            &TextPart::Title,
            &mut faults,
        );
        text(
            procedure.purpose(),
            &self.purpose,
            &TextPart::Purpose,
            &mut faults,
        );
        list(
            procedure.cautions(),
            &self.cautions,
            &TextPart::Caution,
            &mut faults,
        );
        for step in procedure.steps() {
            match self.step(&step.id) {
                Some(texts) => texts.faults(step, &mut faults),
                None => faults.push(TranslationFault::Missing(TextPart::Step(
                    step.id.to_string(),
                ))),
            }
        }
        for id in self.steps.keys() {
            if !procedure.steps().iter().any(|step| step.id.as_str() == id) {
                faults.push(TranslationFault::Unknown(TextPart::Step(id.clone())));
            }
        }
        faults
    }
}

impl StepTexts {
    fn faults(&self, step: &Step, faults: &mut Vec<TranslationFault>) {
        let id = || step.id.clone();
        text(
            &step.instruction,
            &self.instruction,
            &TextPart::Instruction(id()),
            faults,
        );
        text(&step.why, &self.why, &TextPart::Why(id()), faults);
        list(step.how(), &self.how, &|at| TextPart::How(id(), at), faults);
        list(
            &step.cautions,
            &self.cautions,
            &|at| TextPart::StepCaution(id(), at),
            faults,
        );
        let options = step.kind.options().iter();
        let options: Vec<&str> = options.map(|option| option.key.as_str()).collect();
        named(
            &options,
            &self.options,
            &|key| TextPart::Choice(id(), key),
            faults,
        );
        let points = step.kind.points().iter();
        let points: Vec<&str> = points.map(|point| point.key.as_str()).collect();
        named(
            &points,
            &self.points,
            &|key| TextPart::Point(id(), key),
            faults,
        );
    }
}

/// Wants a text where the procedure has one, and none where it has none.
fn text(original: &str, said: &str, part: &TextPart, faults: &mut Vec<TranslationFault>) {
    match (original.is_empty(), said.trim().is_empty()) {
        (false, true) => faults.push(TranslationFault::Missing(part.clone())),
        (true, false) => faults.push(TranslationFault::Unknown(part.clone())),
        _ => {}
    }
}

/// Wants as many texts as the procedure has.
fn list(
    original: &[String],
    said: &[String],
    part: &dyn Fn(usize) -> TextPart,
    faults: &mut Vec<TranslationFault>,
) {
    for at in 0..original.len().max(said.len()) {
        let of = |texts: &[String]| texts.get(at).cloned().unwrap_or_default();
        text(&of(original), &of(said), &part(at + 1), faults);
    }
}

/// Wants a text for each key.
fn named(
    keys: &[&str],
    said: &BTreeMap<String, String>,
    part: &dyn Fn(String) -> TextPart,
    faults: &mut Vec<TranslationFault>,
) {
    for key in keys {
        if said.get(*key).is_none_or(|text| text.trim().is_empty()) {
            faults.push(TranslationFault::Missing(part((*key).to_owned())));
        }
    }
    for key in said.keys().filter(|key| !keys.contains(&key.as_str())) {
        faults.push(TranslationFault::Unknown(part(key.clone())));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::parse;

    const ORIGINAL: &str = r#"
slug = "hatch"
title = "Hatch"
edition = "1"
purpose = "Shut the hatch."
cautions = ["Mind the fingers."]

[[step]]
id = "look"
do = "Look at the seal"
why = "It lets water in."
kind = "choice"

[[step.option]]
key = "good"
label = "good"

[[step.option]]
key = "worn"
label = "worn"

[[step]]
id = "shut"
do = "Shut it"
cautions = ["It is heavy."]
"#;

    const GERMAN: &str = r#"
of = "HASH"
language = "de"
title = "Luke"
purpose = "Die Luke schließen."
cautions = ["Auf die Finger achten."]

[step.look]
do = "Die Dichtung ansehen"
why = "Sie lässt Wasser ein."
option.good = "gut"
option.worn = "abgenutzt"

[step.shut]
do = "Sie schließen"
cautions = ["Sie ist schwer."]
"#;

    fn procedure() -> Procedure {
        parse("hatch.toml", ORIGINAL).expect("a sound procedure")
    }

    fn german() -> String {
        GERMAN.replace("HASH", &procedure().hash().to_string())
    }

    fn faults(text: &str) -> Vec<String> {
        let faults = Translation::read(text, &procedure()).expect_err("not a translation");
        faults.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_translation_is_read_and_leaves_the_identity_alone() {
        let before = procedure().hash();
        let read = Translation::read(&german(), &procedure()).expect("a translation");
        assert_eq!((read.of, procedure().hash()), (before, before));
        let procedure = procedure();
        let look = &procedure.steps()[0].id;
        assert_eq!(
            read.step(look).expect("its texts").instruction,
            "Die Dichtung ansehen"
        );
    }

    #[test]
    fn everything_that_is_missing_or_unknown_is_named() {
        let lacks = german()
            .replace("why = \"Sie lässt Wasser ein.\"\n", "")
            .replace("option.worn = \"abgenutzt\"", "option.lost = \"fort\"")
            .replace("cautions = [\"Sie ist schwer.\"]", "")
            .replace("[step.shut]", "[step.close]");
        assert_eq!(
            faults(&lacks),
            [
                "step 'look': why is missing",
                "step 'look': option 'worn' is missing",
                "step 'look': option 'lost' is unknown",
                "step 'shut' is missing",
                "step 'close' is unknown",
            ]
        );
        let more = german().replace(
            "[\"Sie ist schwer.\"]",
            "[\"Sie ist schwer.\", \"Und kalt.\"]",
        );
        assert_eq!(faults(&more), ["step 'shut': caution 2 is unknown"]);
    }

    #[test]
    fn another_procedures_translation_is_refused_as_a_whole() {
        let other = GERMAN.replace("HASH", &"0".repeat(64));
        let said = faults(&other);
        assert_eq!(said.len(), 1);
        assert!(
            said[0].starts_with("it translates the procedure 0000"),
            "{said:?}"
        );
    }

    #[test]
    fn a_field_that_no_translation_has_is_refused() {
        let with_limit = german().replace("[step.shut]", "[step.shut]\nby = \"master\"");
        assert!(faults(&with_limit)[0].contains("unknown field"));
    }
}
