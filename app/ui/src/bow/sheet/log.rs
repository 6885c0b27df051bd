//! The sheet of a log that is no cable's: readings and words, entry by entry.

use super::super::run::working;
use super::{SheetMode, StepHead, done, sheet_state, to_fault};
use crate::parts::{ActionSheet, SheetState};
use crate::words;
use leptos::prelude::*;
use procedure::{Decimal, Event, LogEntry, Outcome, StepView};

#[component]
pub fn LogSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let remark = RwSignal::new(String::new());
    let values: Vec<(String, RwSignal<String>)> = step
        .points
        .iter()
        .map(|point| (point.key.clone(), RwSignal::new(String::new())))
        .collect();
    let fields = step
        .points
        .iter()
        .zip(&values)
        .map(|(point, (_, value))| {
            let value = *value;
            let judged = point.clone();
            let said = move || {
                let value = number(&value.get()).ok().flatten()?;
                let said = judged.limits.verdict(value, &judged.unit);
                (!said.within).then(|| view! { <span class="field-wrong">{said.words}</span> })
            };
            view! {
                <label class="field">
                    <span>{point.label.clone()} " " <small class="unit">{point.unit.clone()}</small></span>
                    <input
                        type="text"
                        inputmode="decimal"
                        prop:value=value
                        on:input:target=move |event| value.set(event.target().value())
                    />
                    {said}
                </label>
            }
        })
        .collect_view();
    let id = step.id.clone();
    // What is typed and is no number: nothing that was read is dropped in silence.
    let unread = {
        let points = step.points.clone();
        let values = values.clone();
        Memo::new(move |_| {
            let each = points.iter().zip(&values);
            each.filter(|(_, (_, value))| number(&value.get()).is_err())
                .map(|(point, _)| point.label.clone())
                .next()
        })
    };
    let add = {
        let values = values.clone();
        move |()| {
            let readings = values
                .iter()
                .filter_map(|(key, value)| {
                    let read = number(&value.get_untracked()).ok().flatten()?;
                    Some((key.clone(), read))
                })
                .collect();
            let said = remark.get_untracked().trim().to_owned();
            let entry = LogEntry {
                readings,
                remark: (!said.is_empty()).then_some(said),
                ..LogEntry::default()
            };
            working.say(Event::Log {
                step: id.clone(),
                entry,
            });
            remark.set(String::new());
            for (_, value) in &values {
                value.set(String::new());
            }
        }
    };
    let finish = done(&step, Outcome::Confirmed);
    let entries = step.log.len();
    let asked = Event::Log {
        step: step.id.clone(),
        entry: LogEntry {
            remark: Some(words::REMARK.to_owned()),
            ..LogEntry::default()
        },
    };
    let refused = sheet_state(move || Some(asked.clone()));
    let state = Signal::derive(move || match unread.get() {
        Some(label) => SheetState::Blocked(words::no_number(&label)),
        None => refused.get(),
    });
    let to_fault = to_fault(side);
    view! {
        <ActionSheet
            primary=words::ADD_ENTRY
            on_primary=add
            secondary=words::THATS_ALL
            on_secondary=Callback::new(move |()| working.say(finish.clone()))
            state
        >
            <StepHead step=step.clone() side />
            <p class="sheet-words">{words::entries(entries)}</p>
            {fields}
            <label class="field">
                <span>{words::REMARK}</span>
                <input
                    type="text"
                    prop:value=remark
                    on:input:target=move |event| remark.set(event.target().value())
                />
            </label>
            <button type="button" class="button" on:click=move |_| to_fault.run(())>
                {words::NOT_SO}
            </button>
        </ActionSheet>
    }
}

/// Reads what was typed in a field that may stay empty.
fn number(typed: &str) -> Result<Option<Decimal>, procedure::NotANumber> {
    match typed.trim() {
        "" => Ok(None),
        typed => typed.parse().map(Some),
    }
}
