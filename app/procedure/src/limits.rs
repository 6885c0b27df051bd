//! Limits as numbers, and what a value means against them.

use crate::Decimal;
use crate::definition::{Bound, Limits};
use crate::settings::Settings;
use crate::view::{LimitsView, Verdict};

impl Limits {
    /// Finds the numbers that the limits name.
    pub fn resolve(&self, settings: &Settings, unit: &str) -> LimitsView {
        let mut view = LimitsView::default();
        let mut sources = Vec::new();
        let bounds = [
            (&self.min, &mut view.min),
            (&self.above, &mut view.above),
            (&self.max, &mut view.max),
            (&self.below, &mut view.below),
        ];
        for (bound, place) in bounds {
            let Some(bound) = bound else { continue };
            *place = settings.bound(bound);
            let (key, found) = match bound {
                Bound::Number(_) => continue,
                Bound::Setting(key) => (format!("setting {key}"), settings.get(key)),
                Bound::Computed(key) => (format!("computed {key}"), settings.computed(key)),
            };
            match found {
                None => view.unknown.push(key),
                Some(set) => {
                    let mark = if set.confirmed {
                        ""
                    } else {
                        "; not yet confirmed by the master"
                    };
                    let source = format!("{} ({}{mark})", set.source, set.edition);
                    if !sources.contains(&source) {
                        sources.push(source);
                    }
                }
            }
        }
        view.source = sources.join("; ");
        view.words = view.in_words(unit);
        view
    }
}

impl LimitsView {
    /// Says what a value means against the limits.
    pub fn verdict(&self, value: Decimal, unit: &str) -> Verdict {
        let unit = if unit.is_empty() {
            String::new()
        } else {
            format!(" {unit}")
        };
        let out = |words: String| Verdict {
            within: false,
            words,
        };
        if !self.unknown.is_empty() {
            return out(format!(
                "{value}{unit}: no limit is set ({}), so it cannot pass",
                self.unknown.join(", ")
            ));
        }
        if let Some(min) = self.min.filter(|min| value < *min) {
            return out(format!("{value} is below the least of {min}{unit}"));
        }
        if let Some(above) = self.above.filter(|above| value <= *above) {
            return out(format!("{value} is not above {above}{unit}"));
        }
        if let Some(max) = self.max.filter(|max| value > *max) {
            return out(format!("{value} is above the most of {max}{unit}"));
        }
        if let Some(below) = self.below.filter(|below| value >= *below) {
            return out(format!("{value} is not below {below}{unit}"));
        }
        let none = self
            .min
            .or(self.above)
            .or(self.max)
            .or(self.below)
            .is_none();
        let words = if none {
            format!("{value}{unit}")
        } else {
            format!("{value}{unit}, within limits")
        };
        Verdict {
            within: true,
            words,
        }
    }

    fn in_words(&self, unit: &str) -> String {
        let mut parts = Vec::new();
        if let Some(min) = self.min {
            parts.push(format!("at least {min}"));
        }
        if let Some(above) = self.above {
            parts.push(format!("above {above}"));
        }
        if let Some(max) = self.max {
            parts.push(format!("at most {max}"));
        }
        if let Some(below) = self.below {
            parts.push(format!("below {below}"));
        }
        if !self.unknown.is_empty() {
            parts.push(format!("not set: {}", self.unknown.join(", ")));
        }
        let words = parts.join(", ");
        if words.is_empty() || unit.is_empty() {
            words
        } else {
            format!("{words} {unit}")
        }
    }
}
