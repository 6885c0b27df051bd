//! The sheet of a step that asks who takes part: the crew as keys, pressed once for each, and visitors by name.

use super::super::dates::{Offered, offered};
use super::super::people::named;
use super::super::run::working;
use super::{AnswerSheet, SheetMode};
use crate::port::device;
use crate::run_links::name_in;
use crate::words;
use leptos::prelude::*;
use procedure::kind::Names;
use procedure::{Outcome, PersonId, StepView};

/// Takes a person in, or out where they were in.
fn toggle(chosen: &mut Vec<PersonId>, who: &PersonId) {
    let before = chosen.len();
    chosen.retain(|one| !one.is_same(who));
    if chosen.len() == before {
        chosen.push(who.clone());
    }
}

fn key(offered: Offered, chosen: RwSignal<Vec<PersonId>>) -> impl IntoView {
    let who = PersonId::new(offered.person.id.clone());
    let mine = who.clone();
    let is_chosen = move || chosen.with(|all| all.iter().any(|one| one.is_same(&mine)));
    let why = offered.not_in_date;
    view! {
        <button
            type="button"
            class="button"
            data-person=offered.person.id
            aria-pressed=move || is_chosen().to_string()
            on:click=move |_| chosen.update(|all| toggle(all, &who))
        >
            <span data-text="name">{offered.person.name}</span>
            {why.map(|why| view! { <small class="key-why">{why}</small> })}
        </button>
    }
}

/// The sheet.
#[component]
pub fn NamesSheet(step: StepView, names: Names, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let crew = working.crew.get_untracked();
    let slugs = names.in_date.unwrap_or_default();
    let chosen = RwSignal::new(Vec::<PersonId>::new());
    let typed = RwSignal::new(String::new());
    let answer = Signal::derive(move || {
        let who = chosen.get();
        (!who.is_empty()).then_some(Outcome::Names { who })
    });
    let keys = offered(device(), crew.clone(), &slugs);
    let keys = keys.into_iter().map(|one| key(one, chosen)).collect_view();
    let visitor = {
        let crew = crew.clone();
        move || named(&crew, &typed.get())
    };
    let can_add = visitor.clone();
    let add = move |_| {
        if let Some(who) = visitor() {
            chosen.update(|all| {
                if !all.iter().any(|one| one.is_same(&who)) {
                    all.push(who);
                }
            });
            typed.set(String::new());
        }
    };
    let said = move || {
        let names = chosen.with(|all| {
            let names: Vec<String> = all.iter().map(|who| name_in(&crew, who)).collect();
            names.join(", ")
        });
        (!names.is_empty())
            .then(|| view! { <p class="sheet-words names-said" data-text="name">{names}</p> })
    };
    view! {
        <AnswerSheet step side answer without=words::CHOOSE_FIRST.text()>
            {said}
            <div class="sheet-choices is-people">{keys}</div>
            <label class="field">
                <span>{words::VISITOR}</span>
                <input
                    type="text"
                    autocomplete="off"
                    prop:value=typed
                    on:input:target=move |event| typed.set(event.target().value())
                />
            </label>
            <button type="button" class="button" disabled=move || can_add().is_none() on:click=add>
                {words::WRITE_NAME}
            </button>
        </AnswerSheet>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_press_takes_a_name_out_again() {
        let (ana, ben) = (PersonId::new("ana"), PersonId::new("ben"));
        let mut chosen = Vec::new();
        toggle(&mut chosen, &ana);
        toggle(&mut chosen, &ben);
        assert_eq!(chosen, [ana.clone(), ben.clone()]);
        toggle(&mut chosen, &PersonId::new("Ana"));
        assert_eq!(chosen, [ben]);
    }
}
