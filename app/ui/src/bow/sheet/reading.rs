//! The sheet of a step that is read: its points typed as one row, kept by one press.

use super::super::readings::{Readings, verdict};
use super::super::run::working;
use super::{SheetMode, StepHead, sheet_state, to_fault};
use crate::parts::{ActionSheet, Keypad, Minus, SheetState};
use crate::words;
use leptos::prelude::*;
use procedure::{Decimal, Event, Outcome, PointView, Status, StepView};

/// Says whether a point has a reading that stands: it is typed again only by choice.
fn is_good(point: &PointView) -> bool {
    point.verdict.as_ref().is_some_and(|verdict| verdict.within)
}

/// Returns the points of a step as they are to be read now: of one that is too old none has a reading that stands.
fn to_read(step: &StepView) -> Vec<PointView> {
    let mut points = step.points.clone();
    if step.status == Status::Stale {
        for point in &mut points {
            point.verdict = None;
        }
    }
    points
}

/// Returns the next point that is still to be read after the one at `at`, from the first again after the last.
fn next_open(points: &[PointView], typed: &[String], at: usize) -> Option<usize> {
    let count = points.len();
    (1..=count)
        .map(|step| (at + step) % count)
        .find(|at| typed[*at].parse::<Decimal>().is_err() && !is_good(&points[*at]))
}

/// Returns what was typed, once no point is lacking; what was read before and is good is not written down again. A
/// number at `at` that is out of limits waits for no other: the bridge is to hear of it now.
fn row(points: &[PointView], typed: &[String], at: usize) -> Option<Readings> {
    let mut read = Readings::new();
    let (mut is_whole, mut is_out) = (true, false);
    for (index, (point, typed)) in points.iter().zip(typed).enumerate() {
        match typed.parse() {
            Ok(value) => {
                is_out |= index == at && !point.limits.verdict(value, &point.unit).within;
                read.push((point.key.clone(), value));
            }
            Err(_) => is_whole &= typed.is_empty() && is_good(point),
        }
    }
    (!read.is_empty() && (is_whole || is_out)).then_some(read)
}

#[component]
pub fn ReadingSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let drawn = to_read(&step);
    let first_open = drawn.iter().position(|point| !is_good(point));
    let at = RwSignal::new(first_open.unwrap_or(0));
    let typed = RwSignal::new(vec![String::new(); step.points.len()]);
    // Read from the run's card, so that a reading shows beside its point as soon as it is kept.
    let points = {
        let id = step.id.clone();
        Memo::new(move |_| {
            working.card.with(|card| {
                let steps = card.as_ref().map(|card| card.view.steps.iter());
                let found = steps.and_then(|mut steps| steps.find(|step| step.id == id));
                found.map_or_else(|| drawn.clone(), to_read)
            })
        })
    };
    let id = StoredValue::new(step.id.clone());
    let point = move || points.with(|points| points.get(at.get()).cloned());
    let text = Memo::new(move |_| typed.with(|all| all.get(at.get()).cloned().unwrap_or_default()));
    let value = move || text.get().parse::<Decimal>().ok();
    let all =
        Memo::new(move |_| points.with(|points| typed.with(|typed| row(points, typed, at.get()))));
    let event = move |(point, value): (String, Decimal)| Event::Done {
        step: id.get_value(),
        outcome: Outcome::Reading { point, value },
    };
    let refused = sheet_state(move || Some(event((point()?.key, value()?))));
    let state = Signal::derive(move || {
        if all.get().is_none() && value().is_none() {
            return SheetState::Blocked(String::new());
        }
        refused.get()
    });
    let is_out = move || {
        points.with(|points| {
            let mut read = all.get().unwrap_or_default().into_iter();
            read.any(|(key, value)| {
                let mut known = points.iter().filter(|point| point.key == key);
                known.any(|point| !point.limits.verdict(value, &point.unit).within)
            })
        })
    };
    let several = step.points.len() > 1;
    let keep = move || {
        let count = all.with(|all| all.as_ref().map_or(0, Vec::len));
        let word = match (count, is_out()) {
            (0, _) if several => words::NEXT_READING,
            (0 | 1, false) => words::KEEP_READING,
            (0 | 1, true) => words::KEEP_READING_OUT,
            (_, false) => words::KEEP_READINGS,
            (_, true) => words::KEEP_READINGS_OUT,
        };
        word.to_owned()
    };
    let on_keep = move |()| {
        if let Some(read) = all.get_untracked() {
            working.say_all(read.into_iter().map(event).collect());
            typed.update(|typed| typed.iter_mut().for_each(String::clear));
        } else {
            let next = points.with_untracked(|points| {
                typed.with_untracked(|t| next_open(points, t, at.get_untracked()))
            });
            at.set(next.unwrap_or(0));
        }
    };
    let below_zero = |bound: &Option<Decimal>| bound.is_some_and(|bound| bound.to_f64() < 0.0);
    let minus = if step
        .points
        .iter()
        .any(|point| below_zero(&point.limits.min) || below_zero(&point.limits.above))
    {
        Minus::Allowed
    } else {
        Minus::Never
    };
    let tabs = move || {
        let tab = |(index, point): (usize, &PointView)| {
            let kept = point.value.as_ref().map(ToString::to_string);
            let said = move || {
                let typed = typed.with(|all| all.get(index).cloned().unwrap_or_default());
                let typed = (!typed.is_empty()).then_some(typed);
                typed
                    .or_else(|| kept.clone())
                    .unwrap_or_else(|| "—".to_owned())
            };
            view! {
                <button
                    type="button"
                    class="point"
                    aria-pressed=move || (at.get() == index).to_string()
                    on:click=move |_| at.set(index)
                >
                    <span>{point.label.clone()}</span>
                    <span class="point-value">{said}</span>
                </button>
            }
        };
        points.with(|points| points.iter().enumerate().map(tab).collect_view())
    };
    view! {
        <ActionSheet
            primary=Signal::derive(keep)
            on_primary=on_keep
            secondary=words::NOT_SO
            on_secondary=to_fault(side)
            state
        >
            <StepHead step=step.clone() side />
            <Keypad
                value=text
                label=Signal::derive(move || point().map(|p| p.label).unwrap_or_default())
                unit=Signal::derive(move || point().map(|p| p.unit).unwrap_or_default())
                limit=Signal::derive(move || point().map(|p| p.limits.words).unwrap_or_default())
                verdict=Signal::derive(move || Some(verdict(&point()?, &text.get())))
                minus
                on_change=move |text: String| {
                    typed
                        .update(|all| {
                            if let Some(mine) = all.get_mut(at.get_untracked()) {
                                *mine = text;
                            }
                        });
                }
            >
                {several.then(|| view! { <div class="points">{tabs}</div> })}
            </Keypad>
            {move || {
                let source = point().map(|p| p.limits.source).unwrap_or_default();
                (!source.is_empty()).then(|| view! { <p class="sheet-source">{source}</p> })
            }}
        </ActionSheet>
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use procedure::Verdict;

    fn point(key: &str, within: Option<bool>) -> PointView {
        PointView {
            key: key.to_owned(),
            label: String::new(),
            unit: String::new(),
            limits: procedure::LimitsView::default(),
            value: within.map(|_| "1".parse().expect("a number")),
            by: None,
            at_ms: None,
            verdict: within.map(|within| Verdict {
                within,
                words: String::new(),
            }),
            event: None,
        }
    }

    fn typed(all: &[&str]) -> Vec<String> {
        all.iter().map(|text| (*text).to_owned()).collect()
    }

    #[test]
    fn a_row_is_kept_once_no_point_is_lacking_and_what_is_good_is_not_read_again() {
        let fresh = [point("a", None), point("b", None), point("c", None)];
        let retake = [
            point("a", Some(true)),
            point("b", Some(false)),
            point("c", Some(true)),
        ];
        let rows: &[(&[PointView], [&str; 3], &str)] = &[
            (&fresh, ["1", "2", ""], ""),
            (&fresh, ["1", "2", "-"], ""),
            (&fresh, ["1", "2", "3"], "a 1, b 2, c 3"),
            (&retake, ["", "2", ""], "b 2"),
            (&retake, ["1", "", ""], ""),
            (&retake, ["", "", ""], ""),
            // A number that is half typed is not dropped in silence, though the point has a good one.
            (&retake, ["-", "2", ""], ""),
        ];
        for (points, texts, expected) in rows {
            let got = row(points, &typed(texts), 0).unwrap_or_default();
            let said: Vec<_> = got.iter().map(|(k, v)| format!("{k} {v}")).collect();
            assert_eq!(said.join(", "), *expected, "{texts:?}");
        }
    }

    #[test]
    fn what_is_out_of_limits_waits_for_no_other_reading() {
        let mut points = [point("o2", None), point("co", None)];
        points[0].limits.min = "20.9".parse().ok();
        let count = |texts: &[&str], at| row(&points, &typed(texts), at).map(|all| all.len());
        assert_eq!(count(&["20.9", ""], 0), None);
        assert_eq!(count(&["18", ""], 0), Some(1));
        assert_eq!(count(&["18", "3"], 1), Some(2));
    }

    #[test]
    fn the_next_point_is_one_that_is_still_to_be_read() {
        let retake = [
            point("a", Some(false)),
            point("b", Some(true)),
            point("c", None),
        ];
        assert_eq!(next_open(&retake, &typed(&["5", "", ""]), 0), Some(2));
        assert_eq!(next_open(&retake, &typed(&["", "", "5"]), 2), Some(0));
        assert_eq!(next_open(&retake, &typed(&["5", "", "5"]), 2), None);
    }
}
