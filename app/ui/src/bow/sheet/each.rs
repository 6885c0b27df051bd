//! The sheet of a step that asks for a result for each item: a row of keys for each, kept one by one.

use super::super::run::working;
use super::{SheetMode, StepHead, done, sheet_state, to_fault};
use crate::parts::{ActionSheet, StatusWord, Tone};
use crate::words;
use leptos::prelude::*;
use procedure::kind::Each;
use procedure::{Found, Outcome, PointView, StepView};
use std::collections::BTreeMap;

/// What is said of each item and not kept yet.
type Said = RwSignal<BTreeMap<String, Found>>;

const fn word(found: Found, is_counted: bool) -> words::Word {
    match (found, is_counted) {
        (Found::Good, false) => words::EACH_GOOD,
        (Found::Good, true) => words::EACH_HOLDS,
        (Found::Bad, _) => words::EACH_BAD,
        (Found::Left, false) => words::EACH_LEFT,
        (Found::Left, true) => words::EACH_NOT_USED,
    }
}

fn row(point: &PointView, each: &Each, said: Said) -> impl IntoView + use<> {
    let keys = Found::ALL
        .into_iter()
        .filter(|found| *found != Found::Left || each.is_leavable());
    let is_counted = each.at_least.is_some();
    let keys = keys.map(|found| {
        let (code, mine) = (point.key.clone(), point.key.clone());
        view! {
            <button
                type="button"
                class="button"
                data-found=format!("{found:?}").to_lowercase()
                aria-pressed=move || said.with(|all| all.get(&mine) == Some(&found)).to_string()
                on:click=move |_| {
                    said.update(|all| {
                        all.insert(code.clone(), found);
                    });
                }
            >
                {word(found, is_counted)}
            </button>
        }
    });
    let kept = point.verdict.as_ref().map(|verdict| {
        let tone = if verdict.within {
            Tone::Done
        } else {
            Tone::Alarm
        };
        view! { <StatusWord tone word=verdict.words.clone() /> }
    });
    view! {
        <li class="each-item" data-item=point.key.clone()>
            <p data-text="name">{point.label.clone()}</p>
            {kept}
            <div class="each-keys">{keys.collect_view()}</div>
        </li>
    }
}

/// The sheet.
#[component]
pub fn EachSheet(step: StepView, each: Each, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let said: Said = RwSignal::default();
    let (event_of, state_of) = (step.clone(), step.clone());
    let events = move || {
        said.with(|all| {
            let all = all.iter().map(|(item, found)| {
                let (item, found) = (item.clone(), *found);
                done(&event_of, Outcome::Each { item, found })
            });
            all.collect::<Vec<_>>()
        })
    };
    let first = move || {
        let found = said.with(|all| {
            all.iter()
                .next()
                .map(|(item, found)| (item.clone(), *found))
        });
        found.map(|(item, found)| done(&state_of, Outcome::Each { item, found }))
    };
    let refused = sheet_state(first);
    let state = Signal::derive(move || {
        if said.with(BTreeMap::is_empty) {
            crate::parts::SheetState::Blocked(String::new())
        } else {
            refused.get()
        }
    });
    let keep = Signal::derive(move || {
        let count = said.with(BTreeMap::len);
        words::keep_each(count)
    });
    let all_good = {
        let codes: Vec<String> = step.points.iter().map(|point| point.key.clone()).collect();
        let label = if each.at_least.is_some() {
            words::EACH_ALL_HOLD
        } else {
            words::EACH_ALL_GOOD
        };
        (codes.len() > 1).then(|| {
            view! {
                <button
                    type="button"
                    class="button each-all"
                    on:click=move |_| {
                        let all = codes.iter().map(|code| (code.clone(), Found::Good));
                        said.set(all.collect());
                    }
                >
                    {label}
                </button>
            }
        })
    };
    let rows = step
        .points
        .iter()
        .map(|point| row(point, &each, said))
        .collect_view();
    view! {
        <ActionSheet
            primary=keep
            on_primary=move |()| {
                working.say_all(events());
                said.set(BTreeMap::new());
            }
            secondary=words::NOT_SO
            on_secondary=to_fault(side)
            state
        >
            <StepHead step=step.clone() side />
            {all_good}
            <ul class="each-items">{rows}</ul>
        </ActionSheet>
    }
}
