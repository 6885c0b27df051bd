//! What a consent stands on: each step done since the hold before it, what came of it, and how old that is.

use crate::run_links::link_note;
use crate::time;
use crate::words;
use journal::Person;
use leptos::prelude::*;
use procedure::{RunView, StepId, StepView};

/// What the consent stands on: a step, what came of it, and when, ms UTC.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fact {
    what: String,
    said: String,
    at_ms: i64,
}

/// How many steps done before a hold are shown beside its keys.
const FACTS_SHOWN: usize = 6;

/// Lists what was done before a hold since the hold before it, the last first. Where there is more than is shown, the
/// steps at which something was read stay.
pub fn facts(view: &RunView, hold: &StepId, crew: &[Person]) -> Vec<Fact> {
    let before = view.steps.iter().take_while(|step| step.id != *hold);
    let mut since: Vec<&StepView> = before.filter(|step| step.applies).collect();
    let last_hold = since.iter().rposition(|step| step.kind.consent().is_some());
    since.drain(..last_hold.map_or(0, |at| at + 1));
    since.retain(|step| step.at_ms.is_some());
    let was_read = |step: &StepView| step.points.iter().any(|point| point.value.is_some());
    let read = since.iter().filter(|step| was_read(step)).count();
    let mut others = FACTS_SHOWN.saturating_sub(read);
    let shown = since.into_iter().rev().filter(|step| {
        let has_room = others > 0;
        if !was_read(step) {
            others = others.saturating_sub(1);
        }
        has_room || was_read(step)
    });
    let said = shown.take(FACTS_SHOWN).filter_map(|step| {
        Some(Fact {
            what: step.instruction.clone(),
            said: link_note(view, step, crew),
            at_ms: step.at_ms?,
        })
    });
    said.collect()
}

/// The list, with the age of each; nothing where nothing was done before.
#[component]
pub fn StandsOn(
    /// What was done, the last first.
    facts: Vec<Fact>,
    /// The time against which the ages are told, ms UTC.
    #[prop(into)]
    now_ms: Signal<i64>,
    /// Whether the list stands open; at the bow it gives the caution and the keys their room.
    #[prop(optional)]
    begins_open: bool,
) -> impl IntoView {
    let line = move |fact: &Fact| {
        let at_ms = fact.at_ms;
        let age = move || time::span((now_ms.get() - at_ms).max(0));
        view! {
            <li>
                <span>{fact.what.clone()}</span>
                <span class="hold-said">{fact.said.clone()}</span>
                <span class="hold-age">{age}</span>
            </li>
        }
    };
    (!facts.is_empty()).then(|| {
        view! {
            <details class="hold-facts" open=begins_open>
                <summary>{words::DONE_BEFORE}</summary>
                <ul>{facts.iter().map(line).collect_view()}</ul>
            </details>
        }
    })
}

#[cfg(all(test, feature = "ssr"))]
mod tests {
    use super::*;
    use crate::drawn::{drawn, shows};

    #[test]
    fn a_consent_is_asked_for_beside_what_was_found_and_how_old_that_is() {
        let fact = Fact {
            what: "Test the air".to_owned(),
            said: "20.9 %".to_owned(),
            at_ms: 0,
        };
        let html = drawn(|| {
            let now_ms = Signal::stored(12 * 60_000);
            view! { <StandsOn facts=vec![fact] now_ms begins_open=true /> }
        });
        for said in ["Test the air", "20.9 %", &time::span(12 * 60_000)] {
            assert!(shows(&html, said), "{said}: {html}");
        }
    }
}
