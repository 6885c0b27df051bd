//! Who is working: the ship's crew as a list of large keys.

use leptos::prelude::*;

use super::chain::{LinkMark, LinkState};
use crate::words::parts as words;

/// One of the crew.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Person {
    /// The person's own id, handed back when chosen.
    pub id: String,
    /// The name as it stands in the crew list.
    pub name: String,
    /// What they are aboard.
    pub role: String,
}

/// The crew, one large key each.
#[component]
pub fn PersonPick(
    /// The crew.
    #[prop(into)]
    people: Signal<Vec<Person>>,
    /// The id of the one chosen; empty when nobody is.
    #[prop(optional, into)]
    chosen: Signal<String>,
    /// Called with the id of the one pressed.
    #[prop(into)]
    on_pick: Callback<String>,
) -> impl IntoView {
    let row = move |person: Person| {
        let (id, mine) = (person.id.clone(), person.id.clone());
        let is_chosen = Memo::new(move |_| chosen.get() == mine);
        view! {
            <li>
                <button
                    type="button"
                    class="person-key"
                    aria-pressed=move || is_chosen.get().to_string()
                    on:click=move |_| on_pick.run(id.clone())
                >
                    <span class="person-name">{person.name}</span>
                    <span class="person-role">{person.role}</span>
                    {move || is_chosen.get().then(|| view! { <span class="person-chosen"><LinkMark state=LinkState::Done /> {words::CHOSEN}</span> })}
                </button>
            </li>
        }
    };
    view! { <ul class="person-pick chain">{move || people.get().into_iter().map(row).collect_view()}</ul> }
    .into_any()
}
