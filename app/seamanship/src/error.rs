//! Says what is wrong with an input: which field, its value and what is allowed.

use std::borrow::Cow;

/// An input outside the range in which a formula holds. Never replaced by a number.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OutOfRange {
    /// The value is not a number or is infinite.
    #[error("{field} is not a number")]
    NotANumber {
        /// Name of the input with its unit.
        field: Cow<'static, str>,
    },
    /// The value is a number, but not one for which the formula holds.
    #[error("{field} is {}, but must be {allowed}", shown(*.value))]
    Outside {
        /// Name of the input with its unit.
        field: Cow<'static, str>,
        /// The value given.
        value: f64,
        /// What is allowed, in words.
        allowed: Cow<'static, str>,
    },
    /// The inputs are each allowed, but no answer exists for them together.
    #[error("{field}: {reason}")]
    NoAnswer {
        /// Name of the input at which it shows.
        field: Cow<'static, str>,
        /// Why there is none, in words.
        reason: Cow<'static, str>,
    },
}

impl OutOfRange {
    /// Names the field that is wrong, for showing the error beside it.
    pub fn field(&self) -> &str {
        match self {
            Self::NotANumber { field }
            | Self::Outside { field, .. }
            | Self::NoAnswer { field, .. } => field,
        }
    }

    /// Says what is wrong without the name of the field, for showing beside it.
    pub fn words(&self) -> String {
        match self {
            Self::NotANumber { .. } => "is not a number".to_owned(),
            Self::Outside { value, allowed, .. } => {
                format!("is {}, but must be {allowed}", shown(*value))
            }
            Self::NoAnswer { reason, .. } => reason.clone().into_owned(),
        }
    }

    /// Makes a [`OutOfRange::NoAnswer`].
    pub fn no_answer(
        field: impl Into<Cow<'static, str>>,
        reason: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self::NoAnswer {
            field: field.into(),
            reason: reason.into(),
        }
    }

    /// Makes a [`OutOfRange::Outside`].
    pub fn outside(
        field: impl Into<Cow<'static, str>>,
        value: f64,
        allowed: impl Into<Cow<'static, str>>,
    ) -> Self {
        Self::Outside {
            field: field.into(),
            value,
            allowed: allowed.into(),
        }
    }

    /// Renames the field, so that an error in a sum points at the input of the page it came from.
    #[must_use]
    pub fn at(self, name: impl Into<Cow<'static, str>>) -> Self {
        let name = name.into();
        match self {
            Self::NotANumber { .. } => Self::NotANumber { field: name },
            Self::Outside { value, allowed, .. } => Self::Outside {
                field: name,
                value,
                allowed,
            },
            Self::NoAnswer { reason, .. } => Self::NoAnswer {
                field: name,
                reason,
            },
        }
    }
}

/// Writes a number as a person would: without the last digits of its arithmetic.
fn shown(value: f64) -> String {
    let size = value.abs();
    if size == 0.0 || (1e-3..1e9).contains(&size) {
        format!("{}", (value * 1e4).round() / 1e4)
    } else {
        format!("{value:e}")
    }
}

/// Returns `value` if it is finite.
pub(crate) fn finite(field: &'static str, value: f64) -> Result<f64, OutOfRange> {
    if value.is_finite() {
        Ok(value)
    } else {
        Err(OutOfRange::NotANumber {
            field: Cow::Borrowed(field),
        })
    }
}

/// Returns `value` if it is finite and 0 or more.
pub(crate) fn at_least_zero(field: &'static str, value: f64) -> Result<f64, OutOfRange> {
    if finite(field, value)? < 0.0 {
        return Err(OutOfRange::outside(field, value, "0 or more"));
    }
    Ok(value)
}

/// Returns `value` if it is finite and above 0.
pub(crate) fn above_zero(field: &'static str, value: f64) -> Result<f64, OutOfRange> {
    if finite(field, value)? <= 0.0 {
        return Err(OutOfRange::outside(field, value, "above 0"));
    }
    Ok(value)
}

/// Returns `value` if it is finite and lies from `low` to `high`, both included.
pub(crate) fn within(
    field: &'static str,
    value: f64,
    low: f64,
    high: f64,
) -> Result<f64, OutOfRange> {
    if (low..=high).contains(&finite(field, value)?) {
        return Ok(value);
    }
    Err(OutOfRange::outside(
        field,
        value,
        format!("from {low} to {high}"),
    ))
}
