//! The sheet of a step that asks which item of gear it is done with: picked from the register, or typed from its label.

use super::{AnswerSheet, SheetMode};
use crate::words;
use leptos::prelude::*;
use procedure::{ItemView, Outcome, StepView};

fn row(item: &ItemView, chosen: RwSignal<String>) -> impl IntoView + use<> {
    let (code, mine) = (item.code.clone(), item.code.clone());
    let because = item.because.clone();
    view! {
        <button
            type="button"
            class="button item-pick"
            data-item=item.code.clone()
            aria-pressed=move || chosen.with(|chosen| *chosen == mine).to_string()
            on:click=move |_| chosen.set(code.clone())
        >
            <span data-text="procedure">{item.words.clone()}</span>
            {because.map(|why| view! { <span class="item-why" data-text="procedure">{why}</span> })}
        </button>
    }
}

/// The sheet. An item that may not be used can be named all the same: the step then says why it does not pass.
#[component]
pub fn ItemSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let before = step.items.iter().find(|item| {
        let answer = step.answer.as_ref();
        answer.is_some_and(|answer| answer.contains(&format!("({})", item.code)))
    });
    let only = match step.items.as_slice() {
        [only] => Some(only),
        _ => None,
    };
    let first = before.or(only).map(|item| item.code.clone());
    let chosen = RwSignal::new(first.unwrap_or_default());
    let answer = Signal::derive(move || {
        let item = chosen.with(|code| code.trim().to_uppercase());
        let is_described = chosen.with(|code| code.starts_with("cable-"));
        let item = if is_described { chosen.get() } else { item };
        (!item.is_empty()).then_some(Outcome::Item { item })
    });
    let rows = step
        .items
        .iter()
        .map(|item| row(item, chosen))
        .collect_view();
    view! {
        <AnswerSheet step side answer without=words::CHOOSE_FIRST.text()>
            <div class="sheet-choices">{rows}</div>
            <label class="field">
                <span>{words::ITEM_CODE}</span>
                <input
                    type="text"
                    id="item-code"
                    autocapitalize="characters"
                    autocomplete="off"
                    prop:value=chosen
                    on:input:target=move |event| chosen.set(event.target().value())
                />
            </label>
        </AnswerSheet>
    }
}
