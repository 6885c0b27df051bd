//! What an earlier run of the same day found, shown with who and its age, and confirmed by one press.

use super::super::run::{Working, working};
use super::{SheetMode, sheet_state};
use crate::parts::ActionSheet;
use crate::run_links::name_in;
use crate::{time, words};
use journal::again::{Found, still};
use leptos::prelude::*;
use procedure::StepView;

/// How many one press confirms: as many as are in sight together with their key.
const MOST_AT_ONCE: usize = 3;

/// Returns what may be confirmed at this step and those that follow it.
pub fn offered(step: &StepView) -> Vec<Found> {
    let Working { device, run, .. } = working();
    let now_ms = device.system.now_ms.get_untracked();
    let found = device.records.ledger.with_untracked(|ledger| {
        let (ledger, run) = (ledger.as_ref()?, run.get_untracked()?);
        Some(still(ledger, run, &step.id, now_ms))
    });
    let mut found = found.unwrap_or_default();
    found.truncate(MOST_AT_ONCE);
    found
}

#[component]
pub fn AgainSheet(step: StepView, found: Vec<Found>, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let crew = working.crew.get_untracked();
    let now_ms = working.device.system.now_ms.get_untracked();
    let events: Vec<_> = found.iter().map(Found::event).collect();
    let asked = events.first().cloned();
    let lines = found.into_iter().map(|one| {
        let said = words::found_before(
            one.answer.as_deref().unwrap_or(&words::DONE),
            &name_in(&crew, &one.by),
            &time::clock(one.at_ms),
            &time::span(now_ms - one.at_ms),
        );
        view! {
            <li>
                <span data-text="procedure">{one.instruction}</span>
                <span class="quiet">{said}</span>
            </li>
        }
    });
    let lines = lines.collect_view();
    view! {
        <ActionSheet
            primary=words::still_so(events.len(), &events.len().to_string())
            on_primary=move |()| working.say_all(events.clone())
            secondary=words::LOOK_ANEW
            on_secondary=Callback::new(move |()| side.set(SheetMode::Anew))
            state=sheet_state(move || asked.clone())
        >
            <h2 class="sheet-title" data-step=step.id.to_string()>{words::FOUND_TODAY}</h2>
            <ul class="sheet-again">{lines}</ul>
        </ActionSheet>
    }
}
