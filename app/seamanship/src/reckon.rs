//! The sums as they are called from outside: cases as JSON in, results as JSON out.
//!
//! A case is `{"kind": …, "in": {…}}`, its result `{"out": {…}, "caution": "…"}` or `{"error": "…"}`. The
//! command line and the HTTP interface both call [`reckon_line`] and [`list`]; nothing here reads
//! or writes.

mod case;
mod catenary;
mod chain_tables;
mod geodesic;
mod hydraulics;
mod sun;
mod tide;
mod ventilation;
mod wind_load;

use serde::Serialize;
use serde_json::{Map, Value, json};

use case::Input;

/// Why a case has no result.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ReckonError {
    /// The line is not JSON.
    #[error("not a line of JSON: {0}")]
    NotJson(String),
    /// The line is JSON, but not an object with a kind and inputs.
    #[error("a case is an object with a text \"kind\" and an object \"in\"")]
    NotACase,
    /// There is no such sum.
    #[error("no sum is called {0:?}; there are {known}", known = names())]
    UnknownSum(String),
    /// The sum has no such kind.
    #[error("{sum} has no kind {kind:?}")]
    UnknownKind {
        /// The sum.
        sum: &'static str,
        /// The kind asked for.
        kind: String,
    },
    /// An input is not there.
    #[error("{0} is missing")]
    Missing(String),
    /// An input is of the wrong type.
    #[error("{field} is not {expected}")]
    WrongType {
        /// The input.
        field: String,
        /// What it should be.
        expected: &'static str,
    },
    /// An input names something that is not there.
    #[error("{field} {value:?} is not known; there are {known}")]
    UnknownName {
        /// The input.
        field: &'static str,
        /// What was given.
        value: String,
        /// What could be.
        known: String,
    },
    /// An input is outside the range of its formula.
    #[error(transparent)]
    OutOfRange(#[from] crate::OutOfRange),
    /// The time lies outside the interval that heights are given for.
    #[error("time outside the HW-LW interval")]
    OutsideInterval,
    /// The interval that heights are given for ends before it begins.
    #[error("interval end is not after its start")]
    IntervalReversed,
}

/// An input or a result of a sum.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Field {
    /// Its name, with its unit.
    pub name: &'static str,
    /// Its unit or type.
    pub unit: &'static str,
}

/// One kind of case.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct KindDescription {
    /// Its name, as in the case.
    pub kind: &'static str,
    /// What it takes.
    #[serde(rename = "in")]
    pub inputs: &'static [Field],
    /// What it gives.
    #[serde(rename = "out")]
    pub outputs: &'static [Field],
}

/// One sum.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SumDescription {
    /// Its name, as it is asked for.
    pub name: &'static str,
    /// What it does.
    pub title: &'static str,
    /// What it comes from.
    pub source: &'static str,
    /// What to know before relying on it.
    pub caution: &'static str,
    /// Its kinds of case.
    pub kinds: Vec<KindDescription>,
}

type Compute = fn(&Input<'_>) -> Result<Map<String, Value>, ReckonError>;

/// Kinds of case that one computation answers.
struct Kinds {
    names: &'static [&'static str],
    inputs: &'static [Field],
    outputs: &'static [Field],
    compute: Compute,
}

struct Sum {
    name: &'static str,
    title: &'static str,
    source: &'static str,
    caution: &'static str,
    kinds: &'static [Kinds],
}

const SUMS: [&Sum; 8] = [
    &catenary::SUM,
    &geodesic::SUM,
    &tide::SUM,
    &ventilation::SUM,
    &hydraulics::SUM,
    &wind_load::SUM,
    &sun::SUM,
    &chain_tables::SUM,
];

/// What every answer defers to.
const DEFER: &str = "An aid to the work: the ship's safety management system, the master's orders, local rules and licensed practice \
    come first.";

fn names() -> String {
    SUMS.map(|sum| sum.name).join(", ")
}

/// Describes every sum: its kinds, their fields and units.
pub fn list() -> Vec<SumDescription> {
    SUMS.iter()
        .map(|sum| SumDescription {
            name: sum.name,
            title: sum.title,
            source: sum.source,
            caution: sum.caution,
            kinds: sum
                .kinds
                .iter()
                .flat_map(|kinds| {
                    kinds.names.iter().map(|kind| KindDescription {
                        kind,
                        inputs: kinds.inputs,
                        outputs: kinds.outputs,
                    })
                })
                .collect(),
        })
        .collect()
}

/// Says whether there is a sum of this name.
pub fn is_known(name: &str) -> bool {
    SUMS.iter().any(|sum| sum.name == name)
}

/// Computes one case, and gives `{"out": {…}, "caution": "…"}` or `{"error": "…"}`: no figure goes out without what to know
/// before relying on it.
pub fn reckon(name: &str, case: &Value) -> Value {
    let sum = SUMS.iter().find(|sum| sum.name == name);
    let caution = sum.map_or("", |sum| sum.caution);
    match compute(name, case) {
        Ok(out) => json!({ "out": out, "caution": format!("{caution} {DEFER}") }),
        Err(error) => json!({ "error": error.to_string() }),
    }
}

/// Computes one line of JSON, and gives one line of JSON without its end.
pub fn reckon_line(name: &str, line: &str) -> String {
    let result = match serde_json::from_str::<Value>(line) {
        Ok(case) => reckon(name, &case),
        Err(error) => json!({ "error": ReckonError::NotJson(error.to_string()).to_string() }),
    };
    result.to_string()
}

/// Computes one case.
///
/// # Errors
/// [`ReckonError`] if the sum or kind is not known, or an input is missing, of the wrong type or
/// out of range.
pub fn compute(name: &str, case: &Value) -> Result<Map<String, Value>, ReckonError> {
    let sum = SUMS
        .iter()
        .find(|sum| sum.name == name)
        .ok_or_else(|| ReckonError::UnknownSum(name.to_owned()))?;
    let (Some(Value::String(kind)), Some(Value::Object(inputs))) =
        (case.get("kind"), case.get("in"))
    else {
        return Err(ReckonError::NotACase);
    };
    let kinds = sum
        .kinds
        .iter()
        .find(|kinds| kinds.names.contains(&kind.as_str()))
        .ok_or_else(|| ReckonError::UnknownKind {
            sum: sum.name,
            kind: kind.clone(),
        })?;
    (kinds.compute)(&Input::new(inputs))
}

/// Makes the description of one input or result.
const fn field(name: &'static str, unit: &'static str) -> Field {
    Field { name, unit }
}
