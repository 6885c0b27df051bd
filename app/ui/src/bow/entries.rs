//! What was written down at a step: who, when, what, and what was struck out with its reason. Nothing is
//! ever erased.

use super::run::working;
use super::sheet::SheetMode;
use crate::photo::DevicePhoto;
use crate::run_links::{name_in, photo_of};
use crate::{time, words};
use leptos::prelude::*;
use procedure::{Event, HistoryLine, StepId};

/// Returns whether a line of the history belongs to a step: by name, or because it is about one that does.
fn belongs(line: &HistoryLine, step: &StepId, own: &[[u8; 32]]) -> bool {
    match &line.event {
        Event::Second { event }
        | Event::Countersign { event, .. }
        | Event::StrikeOut { event, .. } => own.contains(event),
        _ => line.step.as_ref() == Some(step),
    }
}

fn lines_of(history: &[HistoryLine], step: &StepId) -> Vec<HistoryLine> {
    let own: Vec<[u8; 32]> = history
        .iter()
        .filter(|line| line.step.as_ref() == Some(step))
        .map(|line| line.id)
        .collect();
    history
        .iter()
        .filter(|line| belongs(line, step, &own))
        .cloned()
        .collect()
}

/// The entries of a step, the newest first.
#[component]
pub fn Entries(
    /// The step.
    step: StepId,
    /// What the sheet shows; turned to the form that strikes an entry out.
    side: RwSignal<SheetMode>,
) -> impl IntoView {
    let working = working();
    let lines = Memo::new(move |_| {
        working.card.with(|card| {
            card.as_ref()
                .map(|card| lines_of(&card.view.history, &step))
                .unwrap_or_default()
        })
    });
    move || {
        let lines = lines.get();
        (!lines.is_empty()).then(|| {
            view! {
                <section class="entries" aria-label=words::ENTRIES>
                    <h3 class="entries-head">{words::ENTRIES}</h3>
                    <ol>
                        {lines
                            .into_iter()
                            .rev()
                            .map(|line| view! { <Entry line side /> })
                            .collect_view()}
                    </ol>
                </section>
            }
        })
    }
}

#[component]
fn Entry(line: HistoryLine, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let crew = working.crew.get_untracked();
    let event = line.id;
    let asked = Event::StrikeOut {
        event,
        reason: "asked".to_owned(),
    };
    let may_strike = line.struck.is_none() && untrack(|| working.refusal(&asked)).is_none();
    let struck = line
        .struck
        .as_ref()
        .map(|(by, why)| words::struck(&name_in(&crew, by), why));
    let photo = photo_of(&line.event);
    let is_struck = struck.is_some();
    let said = if is_struck {
        view! { <s class="entry-said">{line.words.clone()}</s> }.into_any()
    } else {
        view! { <span class="entry-said">{line.words.clone()}</span> }.into_any()
    };
    let notes = [
        (line.out_of_sequence, words::OUT_OF_SEQUENCE),
        (line.without_right, words::WITHOUT_RIGHT),
    ];
    let notes = notes
        .into_iter()
        .filter(|(is_so, _)| *is_so)
        .map(|(_, text)| view! { <span class="entry-note">{text}</span> })
        .collect_view();
    view! {
        <li class="entry">
            {said}
            <span class="entry-who">
                {name_in(&crew, &line.by)} ", " {time::clock(line.at_ms)}
            </span>
            {notes}
            {photo.map(|hash| view! { <DevicePhoto hash alt=line.words.clone() /> })}
            {struck.map(|words| view! { <span class="entry-note">{words}</span> })}
            {may_strike
                .then(|| {
                    view! {
                        <button
                            type="button"
                            class="button is-quiet"
                            on:click=move |_| side.set(SheetMode::Strike(event))
                        >
                            {words::STRIKE_OUT}
                        </button>
                    }
                })}
        </li>
    }
}
