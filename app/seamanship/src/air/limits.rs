//! Limits for gases, each with where it stands and in which edition.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use super::Gas;

/// One end of what is allowed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Edge {
    /// The value.
    pub at: f64,
    /// Whether the value itself is still allowed.
    pub is_included: bool,
}

impl Edge {
    const fn up_to(at: f64) -> Self {
        Self {
            at,
            is_included: true,
        }
    }

    const fn below(at: f64) -> Self {
        Self {
            at,
            is_included: false,
        }
    }
}

/// What is allowed of one gas, where it is said and in which edition.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GasLimit {
    /// Which gas.
    pub gas: Gas,
    /// Not less than this.
    pub least: Option<Edge>,
    /// Not more than this.
    pub most: Option<Edge>,
    /// Where it is said.
    pub source: Cow<'static, str>,
    /// Which edition.
    pub edition: Cow<'static, str>,
}

impl GasLimit {
    /// Says whether a reading is allowed. A reading that is not a number never is.
    pub fn allows(&self, value: f64) -> bool {
        let over = |edge: Edge| value > edge.at || (edge.is_included && value >= edge.at);
        let under = |edge: Edge| value < edge.at || (edge.is_included && value <= edge.at);
        value.is_finite() && self.least.is_none_or(over) && self.most.is_none_or(under)
    }

    /// How far inside the limit a reading is; the least governs.
    pub(super) fn margin(&self, value: f64) -> f64 {
        let from_least = self.least.map_or(f64::INFINITY, |edge| value - edge.at);
        let from_most = self.most.map_or(f64::INFINITY, |edge| edge.at - value);
        from_least.min(from_most)
    }

    /// The limit in words, with its source.
    pub fn words(&self) -> String {
        let least = self.least.map(|edge| {
            let sign = if edge.is_included {
                "at least"
            } else {
                "above"
            };
            format!("{sign} {}", edge.at)
        });
        let most = self.most.map(|edge| {
            let sign = if edge.is_included { "at most" } else { "below" };
            format!("{sign} {}", edge.at)
        });
        let bounds: Vec<String> = least.into_iter().chain(most).collect();
        format!(
            "{} {} ({}, {})",
            bounds.join(" and "),
            self.gas.unit(),
            self.source,
            self.edition
        )
    }
}

const fn limit(
    gas: Gas,
    least: Option<Edge>,
    most: Option<Edge>,
    source: &'static str,
    edition: &'static str,
) -> GasLimit {
    GasLimit {
        gas,
        least,
        most,
        source: Cow::Borrowed(source),
        edition: Cow::Borrowed(edition),
    }
}

/// Returns the cautious defaults: the IMO recommendations in force since 3 December 2025.
///
/// Oxygen at least 20.9 %, flammable below 1 % LFL, carbon dioxide below 0.5 %. Of toxic gases IMO gives no number: below half of a
/// national limit, here the UK's over 8 hours, 20 and 5 ppm, so carbon monoxide 10 and hydrogen sulphide 2.5 ppm.
///
/// # Source
/// IMO MSC.581(110), 2025, as class circulars summarise it; UK HSE, EH40, workplace exposure limits, from memory, not opened; the
/// upper edge of oxygen, 21.5 %, is common practice, no source: 29 CFR 1915.12 calls 22 % enriched, from memory, not opened. The ship confirms
/// or changes each.
pub fn msc581() -> Vec<GasLimit> {
    const IMO: &str = "IMO MSC.581(110)";
    const HALF: &str = "half of the UK 8-hour limit (HSE, EH40, from memory, not opened)";
    const EDITION: &str = "June 2025, as summarised by class";
    vec![
        limit(
            Gas::Oxygen,
            Some(Edge::up_to(20.9)),
            Some(Edge::up_to(21.5)),
            "IMO MSC.581(110); at most 21.5: common practice, no source",
            EDITION,
        ),
        limit(Gas::Flammable, None, Some(Edge::below(1.0)), IMO, EDITION),
        limit(
            Gas::HydrogenSulphide,
            None,
            Some(Edge::below(2.5)),
            HALF,
            EDITION,
        ),
        limit(
            Gas::CarbonMonoxide,
            None,
            Some(Edge::below(10.0)),
            HALF,
            EDITION,
        ),
        limit(
            Gas::CarbonDioxide,
            None,
            Some(Edge::below(0.5)),
            IMO,
            EDITION,
        ),
    ]
}

/// Returns the limits of the text that was replaced: no carbon dioxide, and 1 % LFL still allowed.
///
/// # Source
/// IMO A.1050(27), 2011. For reading older records; not for a new permit.
pub fn a1050() -> Vec<GasLimit> {
    const IMO: &str = "IMO A.1050(27), replaced";
    const EDITION: &str = "2011";
    vec![
        limit(Gas::Oxygen, Some(Edge::up_to(21.0)), None, IMO, EDITION),
        limit(Gas::Flammable, None, Some(Edge::up_to(1.0)), IMO, EDITION),
        limit(
            Gas::HydrogenSulphide,
            None,
            Some(Edge::up_to(2.5)),
            IMO,
            EDITION,
        ),
        limit(
            Gas::CarbonMonoxide,
            None,
            Some(Edge::up_to(10.0)),
            IMO,
            EDITION,
        ),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    fn allows(limits: &[GasLimit], gas: Gas, value: f64) -> bool {
        limits
            .iter()
            .find(|limit| limit.gas == gas)
            .expect("there is one")
            .allows(value)
    }

    #[test]
    fn the_edges_of_both_texts_are_where_the_circulars_put_them() {
        let (new, old) = (msc581(), a1050());
        for (value, passes) in [(20.9, true), (20.8, false), (21.0, true), (21.6, false)] {
            assert_eq!(allows(&new, Gas::Oxygen, value), passes, "oxygen {value}");
        }
        assert!(allows(&new, Gas::CarbonDioxide, 0.49));
        assert!(!allows(&new, Gas::CarbonDioxide, 0.50));
        assert!(!allows(&new, Gas::Flammable, 1.0));
        assert!(allows(&old, Gas::Flammable, 1.0));
        assert!(!allows(&new, Gas::Oxygen, f64::NAN));
    }

    #[test]
    fn a_limit_says_its_source_and_edition() {
        let words = msc581()[1].words();
        assert!(
            words.starts_with("below 1 % LFL (IMO MSC.581(110), June 2025"),
            "{words}"
        );
    }
}
