//! Limits as numbers, and what a value means against them.

use crate::Decimal;
use crate::definition::{Bound, Limits, Point};
use crate::ids::StepId;
use crate::settings::Settings;
use crate::view::{CallView, LimitsView, Verdict};
use crate::words;
use seamanship::time::UtcMs;

impl Limits {
    /// Finds the numbers that the limits name, where no run is worked: what a run itself reads is not known.
    pub fn resolve(&self, settings: &Settings, unit: &str) -> LimitsView {
        self.resolve_in(settings, unit, &Here::NOWHERE)
    }

    /// Finds the numbers that the limits name.
    pub(crate) fn resolve_in(
        &self,
        settings: &Settings,
        unit: &str,
        here: &Here<'_>,
    ) -> LimitsView {
        let mut view = LimitsView {
            is_date: self.not_past == Some(true),
            ..LimitsView::default()
        };
        let mut sources = Vec::new();
        let bounds = [
            (&self.min, &mut view.min),
            (&self.above, &mut view.above),
            (&self.max, &mut view.max),
            (&self.below, &mut view.below),
        ];
        for (bound, place) in bounds {
            let Some(bound) = bound else { continue };
            *place = here.bound(settings, bound);
            let (key, found) = match bound {
                Bound::Number(_) => continue,
                Bound::Read { .. } => {
                    if place.is_none() {
                        view.unknown.push(words::READ_IN_RUN.to_owned());
                    }
                    continue;
                }
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
        if view.is_date {
            view.min = here.today;
        }
        view.words = view.in_words(unit);
        view
    }
}

impl Point {
    /// Finds the numbers that the point names, where no run is worked: what a run itself reads is said to be that.
    pub fn resolve(&self, settings: &Settings) -> LimitsView {
        self.resolve_in(settings, &Here::NOWHERE)
    }

    /// Finds the numbers that the point's limits name, and those from which something is called for.
    pub(crate) fn resolve_in(&self, settings: &Settings, here: &Here<'_>) -> LimitsView {
        let mut view = self.limits.resolve_in(settings, &self.unit, here);
        for call in self.calls.iter().flatten() {
            match here.bound(settings, &call.from) {
                Some(from) => view.calls.push(CallView {
                    from,
                    say: call.say.clone(),
                }),
                None => view.unknown.push(words::READ_IN_RUN.to_owned()),
            }
        }
        view.unknown.dedup();
        view.words = view.in_words(&self.unit);
        view
    }
}

/// What a run itself says, for limits that ask it.
pub(crate) struct Here<'a> {
    /// Finds what was read at a point of a step.
    pub read: &'a dyn Fn(&StepId, &str) -> Option<Decimal>,
    /// Today's date in UTC, in eight digits.
    pub today: Option<Decimal>,
}

impl Here<'_> {
    const NOWHERE: Here<'static> = Here {
        read: &|_, _| None,
        today: None,
    };

    fn bound(&self, settings: &Settings, bound: &Bound) -> Option<Decimal> {
        match bound {
            Bound::Read { step, point } => (self.read)(step, point),
            other => settings.bound(other),
        }
    }
}

/// Returns the date of a moment, ms UTC, in eight digits: year, month, day.
pub(crate) fn date_of(ms: i64) -> Option<Decimal> {
    let iso = UtcMs(ms).to_iso();
    let digits: String = iso.chars().take(10).filter(char::is_ascii_digit).collect();
    (digits.len() == 8).then(|| digits.parse().ok()).flatten()
}

/// Says a date that is written in eight digits as 2027-01-31; nothing where it is none.
fn said_date(value: Decimal) -> Option<String> {
    let digits = value.to_string();
    let whole = digits.len() == 8 && digits.chars().all(|c| c.is_ascii_digit());
    let iso = whole.then(|| format!("{}-{}-{}", &digits[..4], &digits[4..6], &digits[6..]))?;
    UtcMs::parse_date("date", &iso).ok().map(|_| iso)
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
        if self.is_date {
            return match said_date(value) {
                None => out(format!("{value} {}", words::NO_DATE)),
                Some(date) if self.min.is_some_and(|today| value < today) => {
                    out(format!("{date} {}", words::PAST))
                }
                Some(date) => Verdict {
                    within: true,
                    words: date,
                },
            };
        }
        let called = self.calls.iter().filter(|call| value >= call.from);
        let called: Vec<&str> = called.map(|call| call.say.as_str()).collect();
        if !called.is_empty() {
            return out(format!("{value}{unit}: {}", called.join("; ")));
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
            .is_none()
            && self.calls.is_empty();
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
        if self.is_date {
            return words::DATE_LIMIT.to_owned();
        }
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
        let (read, not_set): (Vec<&String>, Vec<&String>) = self
            .unknown
            .iter()
            .partition(|key| *key == words::READ_IN_RUN);
        parts.extend(read.first().map(|key| (*key).clone()));
        if !not_set.is_empty() {
            let not_set: Vec<&str> = not_set.iter().map(|key| key.as_str()).collect();
            parts.push(format!("not set: {}", not_set.join(", ")));
        }
        let words = parts.join(", ");
        let words = if words.is_empty() || unit.is_empty() {
            words
        } else {
            format!("{words} {unit}")
        };
        let calls = self.calls.iter();
        let calls = calls.map(|call| format!("from {} {unit}: {}", call.from, call.say));
        let all: Vec<String> = Some(words)
            .filter(|words| !words.is_empty())
            .into_iter()
            .chain(calls)
            .collect();
        all.join("; ")
    }
}
