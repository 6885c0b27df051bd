//! A reading against its limits, as a bar and in words.

use leptos::prelude::*;

use super::status_word::{Tone, ToneShape};
use crate::words::parts as words;

/// The limits a reading must keep, and the scale it is drawn on.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Limits {
    /// The least it may be.
    pub least: Option<f64>,
    /// The most it may be.
    pub most: Option<f64>,
    /// Decimals shown.
    pub decimals: usize,
}

impl Limits {
    /// Returns whether `value` keeps the limits; a value that is no number does not.
    pub fn keep(self, value: f64) -> bool {
        value.is_finite()
            && self.least.is_none_or(|least| value >= least)
            && self.most.is_none_or(|most| value <= most)
    }

    /// Returns the two ends of the scale: the limits and the value with room about them.
    fn scale(self, value: f64) -> (f64, f64) {
        let value = if value.is_finite() { value } else { 0.0 };
        let low = self.least.or(self.most).unwrap_or(value).min(value);
        let high = self.most.or(self.least).unwrap_or(value).max(value);
        let room = ((high - low) * 0.35).max(high.abs() * 0.12).max(1e-6);
        (low - room, high + room)
    }
}

/// One reading: its name, its value with the unit, a bar with the limits marked, and the verdict in words.
#[component]
pub fn ReadingBar(
    /// What was read, and where.
    #[prop(into)]
    label: String,
    /// The value.
    value: f64,
    /// The unit.
    #[prop(into)]
    unit: String,
    /// The limits.
    limits: Limits,
) -> impl IntoView {
    let (low, high) = limits.scale(value);
    let at = move |x: f64| ((x - low) / (high - low) * 200.0).clamp(0.0, 200.0);
    let good_from = limits.least.map_or(0.0, at);
    let good_to = limits.most.map_or(200.0, at);
    let tone = if limits.keep(value) {
        Tone::Calm
    } else {
        Tone::Alarm
    };
    let decimals = limits.decimals;
    let written = move |x: f64| format!("{x:.decimals$}").replace('-', "\u{2212}");
    let shown = if value.is_finite() {
        written(value)
    } else {
        words::NOTHING_TYPED.to_owned()
    };
    let least = limits.least.map(written);
    let most = limits.most.map(written);
    let bounds = words::limits(least.as_deref(), most.as_deref(), &unit);
    let marks = [limits.least, limits.most]
        .into_iter()
        .flatten()
        .map(|x| view! { <path d=format!("M{:.1} 8V22", at(x)) class="bar-limit" /> })
        .collect_view();
    let needle = value.is_finite().then(|| {
        let x = at(value);
        let d = format!("M{x:.1} 11l-6-10h12Z");
        let stem = format!("M{x:.1} 8V20");
        view! {
            <path d=stem class="bar-stem" />
            <path d=d class="bar-needle" />
        }
    });
    view! {
        <div class=format!("reading-bar {}", tone.class())>
            <span class="bar-label">{label}</span>
            <span class="bar-value">{shown} " " <small class="unit">{unit}</small></span>
            <svg class="bar-drawing" viewBox="-8 0 216 24" preserveAspectRatio="none" aria-hidden="true" focusable="false">
                <rect x="0" y="12" width="200" height="6" class="bar-ground" />
                <rect
                    x=format!("{good_from:.1}")
                    y="12"
                    width=format!("{:.1}", (good_to - good_from).max(0.0))
                    height="6"
                    class="bar-good"
                />
                {marks}
                {needle}
            </svg>
            <span class="bar-verdict">
                {(tone == Tone::Alarm).then(|| view! { <ToneShape tone=tone /> })}
                <span>{words::against(value, limits.least, limits.most)}", "{bounds}</span>
            </span>
        </div>
    }
    .into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_on_the_limit_keeps_it_and_no_number_never_does() {
        let oxygen = Limits {
            least: Some(20.6),
            most: Some(22.0),
            decimals: 1,
        };
        assert!(oxygen.keep(20.6) && oxygen.keep(22.0));
        assert!(!oxygen.keep(20.5) && !oxygen.keep(22.1) && !oxygen.keep(f64::NAN));
    }

    #[test]
    fn the_scale_always_has_room_for_limits_and_value() {
        for (value, least, most) in [
            (0.62, Some(0.3), None),
            (0.1, Some(0.3), None),
            (9.0, None, Some(1.0)),
            (0.0, None, None),
            (f64::NAN, None, None),
        ] {
            let (low, high) = Limits {
                least,
                most,
                decimals: 1,
            }
            .scale(value);
            assert!(low < high, "{value}: {low} to {high}");
            for x in [least, most]
                .into_iter()
                .flatten()
                .chain(value.is_finite().then_some(value))
            {
                assert!(low < x && x < high, "{x} is not within {low} to {high}");
            }
        }
    }
}
