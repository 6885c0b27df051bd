//! Reading the inputs of a case and writing its results.

use serde_json::{Map, Value};

use super::ReckonError;
use crate::error::OutOfRange;
use crate::time::UtcMs;

/// The inputs of a case, or of an object within it.
pub(super) struct Input<'a> {
    fields: &'a Map<String, Value>,
    within: Option<&'static str>,
}

impl<'a> Input<'a> {
    pub(super) const fn new(fields: &'a Map<String, Value>) -> Self {
        Self {
            fields,
            within: None,
        }
    }

    fn full_name(&self, name: &str) -> String {
        match self.within {
            Some(outer) => format!("{outer}.{name}"),
            None => name.to_owned(),
        }
    }

    fn value(&self, name: &'static str) -> Result<&'a Value, ReckonError> {
        self.fields
            .get(name)
            .ok_or_else(|| ReckonError::Missing(self.full_name(name)))
    }

    fn wrong(&self, name: &str, expected: &'static str) -> ReckonError {
        ReckonError::WrongType {
            field: self.full_name(name),
            expected,
        }
    }

    pub(super) fn number(&self, name: &'static str) -> Result<f64, ReckonError> {
        self.value(name)?
            .as_f64()
            .ok_or_else(|| self.wrong(name, "a number"))
    }

    /// A number that may be null or left out.
    pub(super) fn optional(&self, name: &'static str) -> Result<Option<f64>, ReckonError> {
        match self.fields.get(name) {
            None | Some(Value::Null) => Ok(None),
            Some(_) => self.number(name).map(Some),
        }
    }

    pub(super) fn text(&self, name: &'static str) -> Result<&'a str, ReckonError> {
        self.value(name)?
            .as_str()
            .ok_or_else(|| self.wrong(name, "a text"))
    }

    pub(super) fn moment(&self, name: &'static str) -> Result<UtcMs, ReckonError> {
        Ok(UtcMs::parse(name, self.text(name)?)?)
    }

    pub(super) fn object(&self, name: &'static str) -> Result<Input<'a>, ReckonError> {
        match self.value(name)? {
            Value::Object(fields) => Ok(Input {
                fields,
                within: Some(name),
            }),
            _ => Err(self.wrong(name, "an object")),
        }
    }

    pub(super) fn objects(&self, name: &'static str) -> Result<Vec<Input<'a>>, ReckonError> {
        let Value::Array(items) = self.value(name)? else {
            return Err(self.wrong(name, "a list"));
        };
        items
            .iter()
            .map(|item| match item {
                Value::Object(fields) => Ok(Input {
                    fields,
                    within: Some(name),
                }),
                _ => Err(self.wrong(name, "a list of objects")),
            })
            .collect()
    }
}

/// The results of a case as they are gathered.
#[derive(Default)]
pub(super) struct Output(Map<String, Value>);

impl Output {
    pub(super) fn new() -> Self {
        Self::default()
    }

    /// Adds a number.
    ///
    /// # Errors
    /// If it is not finite: JSON has no such number, and none should get this far.
    pub(super) fn number(mut self, name: &'static str, value: f64) -> Result<Self, ReckonError> {
        let number = serde_json::Number::from_f64(value).ok_or_else(|| {
            OutOfRange::no_answer(name, "too large or too small a result for these inputs")
        })?;
        self.0.insert(name.to_owned(), Value::Number(number));
        Ok(self)
    }

    pub(super) fn numbers<const N: usize>(
        self,
        numbers: [(&'static str, f64); N],
    ) -> Result<Self, ReckonError> {
        numbers
            .into_iter()
            .try_fold(self, |out, (name, value)| out.number(name, value))
    }

    pub(super) fn put(mut self, name: &'static str, value: impl Into<Value>) -> Self {
        self.0.insert(name.to_owned(), value.into());
        self
    }

    pub(super) fn done(self) -> Map<String, Value> {
        self.0
    }
}
