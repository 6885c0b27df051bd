//! Several readings that are taken together and put down as one entry, on the bow's own keypad.

use crate::parts::{ActionSheet, Keypad, SheetState, Tone, Verdict};
use crate::words;
use leptos::prelude::*;
use procedure::{Decimal, PointView};

/// What was read: the point's name, and the number.
pub type Readings = Vec<(String, Decimal)>;

/// Returns the readings when every point has one.
fn read(points: &[PointView], typed: &[String]) -> Option<Readings> {
    let each = points.iter().zip(typed);
    each.map(|(point, typed)| Some((point.key.clone(), typed.parse().ok()?)))
        .collect()
}

/// Returns the next point without a reading after the one at `at`, from the first again after the last.
fn next_open(typed: &[String], at: usize) -> Option<usize> {
    let count = typed.len();
    (1..=count)
        .map(|step| (at + step) % count)
        .find(|at| typed[*at].parse::<Decimal>().is_err())
}

/// Says what a number means that is typed for a point; that one is to be typed where none is.
pub fn verdict(point: &PointView, typed: &str) -> Verdict {
    let Ok(value) = typed.parse() else {
        return Verdict {
            tone: Tone::Calm,
            sentence: words::TYPE_FIRST.to_owned(),
        };
    };
    let said = point.limits.verdict(value, &point.unit);
    let tone = if said.within { Tone::Done } else { Tone::Alarm };
    Verdict {
        tone,
        sentence: said.words,
    }
}

/// The form: each point in turn, then all of them kept together.
#[component]
pub fn ReadingsForm(
    /// What is read.
    title: &'static str,
    /// The points, with their limits.
    points: Vec<PointView>,
    /// Called with the readings of every point.
    #[prop(into)]
    on_read: Callback<Readings>,
    /// Called when nothing is to be kept.
    back: Callback<()>,
) -> impl IntoView {
    let at = RwSignal::new(0);
    let typed = RwSignal::new(vec![String::new(); points.len()]);
    let points = StoredValue::new(points);
    let value =
        Memo::new(move |_| typed.with(|all| all.get(at.get()).cloned().unwrap_or_default()));
    let point = move || points.with_value(|points| points.get(at.get()).cloned());
    let all =
        Memo::new(move |_| points.with_value(|points| typed.with(|typed| read(points, typed))));
    let is_out = move || {
        let points = points.get_value();
        all.get().is_some_and(|all| {
            let within = |(point, (_, value)): (&PointView, &(String, Decimal))| {
                point.limits.verdict(*value, &point.unit).within
            };
            !points.iter().zip(&all).all(within)
        })
    };
    let primary = Signal::derive(move || {
        match (all.get().is_some(), is_out()) {
            (false, _) => words::NEXT_READING,
            (true, false) => words::KEEP_READINGS,
            (true, true) => words::KEEP_READINGS_OUT,
        }
        .to_owned()
    });
    let state = Signal::derive(move || {
        if value.get().parse::<Decimal>().is_ok() {
            SheetState::Ready
        } else {
            SheetState::Blocked(String::new())
        }
    });
    let on_primary = move |()| {
        if let Some(readings) = all.get_untracked() {
            on_read.run(readings);
            return;
        }
        let next = typed.with_untracked(|typed| next_open(typed, at.get_untracked()));
        at.set(next.unwrap_or(0));
    };
    let tab = move |(index, point): (usize, PointView)| {
        let said = move || {
            typed.with(|all| match all.get(index) {
                Some(text) if !text.is_empty() => text.clone(),
                _ => "—".to_owned(),
            })
        };
        view! {
            <button
                type="button"
                class="point"
                aria-pressed=move || (at.get() == index).to_string()
                on:click=move |_| at.set(index)
            >
                <span>{point.label}</span>
                <span class="point-value">{said}</span>
            </button>
        }
    };
    let tabs = points.get_value().into_iter().enumerate().map(tab);
    view! {
        <ActionSheet primary on_primary secondary=words::CANCEL on_secondary=back state>
            <h2 class="sheet-title">{title}</h2>
            <Keypad
                value
                label=Signal::derive(move || point().map(|p| p.label).unwrap_or_default())
                unit=Signal::derive(move || point().map(|p| p.unit).unwrap_or_default())
                limit=Signal::derive(move || point().map(|p| p.limits.words).unwrap_or_default())
                verdict=Signal::derive(move || Some(verdict(&point()?, &value.get())))
                on_change=move |text: String| {
                    typed
                        .update(|all| {
                            if let Some(mine) = all.get_mut(at.get_untracked()) {
                                *mine = text;
                            }
                        });
                }
            >
                <div class="points">{tabs.collect_view()}</div>
            </Keypad>
        </ActionSheet>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typed(all: &[&str]) -> Vec<String> {
        all.iter().map(|text| (*text).to_owned()).collect()
    }

    fn points(keys: &[&str]) -> Vec<PointView> {
        let point = |key: &&str| PointView {
            key: (*key).to_owned(),
            label: String::new(),
            unit: String::new(),
            limits: procedure::LimitsView::default(),
            value: None,
            by: None,
            at_ms: None,
            verdict: None,
            event: None,
        };
        keys.iter().map(point).collect()
    }

    #[test]
    fn the_next_reading_is_the_first_that_is_missing_further_on_and_round_again() {
        let rows: &[(&[&str], usize, Option<usize>)] = &[
            (&["20.9", "", ""], 0, Some(1)),
            (&["20.9", "0", ""], 0, Some(2)),
            (&["", "0", "3"], 1, Some(0)),
            (&["20.9", "0", "-"], 0, Some(2)),
            (&["20.9", "0", "3"], 2, None),
        ];
        for (texts, at, expected) in rows {
            assert_eq!(
                next_open(&typed(texts), *at),
                *expected,
                "{texts:?} at {at}"
            );
        }
    }

    #[test]
    fn an_entry_is_made_only_of_every_point() {
        let points = points(&["o2", "co"]);
        assert_eq!(read(&points, &typed(&["20.9", ""])), None);
        let all = read(&points, &typed(&["20.9", "3"])).expect("both");
        let said: Vec<_> = all.iter().map(|(k, v)| format!("{k} {v}")).collect();
        assert_eq!(said, ["o2 20.9", "co 3"]);
    }
}
