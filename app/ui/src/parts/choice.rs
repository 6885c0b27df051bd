//! A choice between a few answers: each a large key with its own link, closed when chosen.

use leptos::prelude::*;

use super::chain::{LinkMark, LinkState};

/// One answer.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Answer {
    /// The answer's own id, handed back when chosen.
    pub id: String,
    /// The answer in words.
    pub text: String,
    /// What follows from it; may be empty.
    pub note: String,
}

/// The answers, one large key each.
#[component]
pub fn Choice(
    /// The answers.
    #[prop(into)]
    answers: Signal<Vec<Answer>>,
    /// The id of the one chosen; empty when none is.
    #[prop(optional, into)]
    chosen: Signal<String>,
    /// Called with the id of the one pressed.
    #[prop(into)]
    on_choose: Callback<String>,
) -> impl IntoView {
    let key = move |answer: Answer| {
        let (id, mine) = (answer.id.clone(), answer.id);
        let is_chosen = Memo::new(move |_| chosen.get() == mine);
        let mark = move || {
            let state = if is_chosen.get() {
                LinkState::Done
            } else {
                LinkState::Open
            };
            view! { <LinkMark state=state /> }
        };
        let note = (!answer.note.is_empty())
            .then(|| view! { <span class="choice-note">{answer.note}</span> });
        view! {
            <button
                type="button"
                class="choice-key"
                aria-pressed=move || is_chosen.get().to_string()
                on:click=move |_| on_choose.run(id.clone())
            >
                {mark}
                <span class="choice-text">{answer.text}</span>
                {note}
            </button>
        }
    };
    view! {
        <div class="choice chain" role="group">
            {move || answers.get().into_iter().map(key).collect_view()}
        </div>
    }
    .into_any()
}
