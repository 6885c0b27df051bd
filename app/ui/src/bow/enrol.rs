//! Enrolment of this phone.

use super::head::BowHead;
use crate::parts::{Empty, Person, PersonPick};
use crate::port::{Act, ShipCard, Standing, phone, source};
use crate::words;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::hooks::use_navigate;

/// The page where a phone is enrolled.
#[component]
pub fn EnrolPage() -> impl IntoView {
    let phone = phone();
    let source = source();
    let code = RwSignal::new(String::new());
    let person = RwSignal::new(String::new());
    let tries = RwSignal::new(0_u32);
    let ship = LocalResource::new(move || {
        tries.track();
        let source = source.clone();
        async move { source.get::<ShipCard>("ship".to_owned()).await }
    });
    let navigate = use_navigate();
    Effect::new(move |_| {
        if matches!(phone.standing.get(), Standing::Enrolled(_)) {
            navigate("/bow", leptos_router::NavigateOptions::default());
        }
    });
    let people = move |ship: &ShipCard| {
        ship.crew
            .iter()
            .map(|member| Person {
                id: member.id.clone(),
                name: member.name.clone(),
                role: member.rank.clone(),
            })
            .collect::<Vec<_>>()
    };
    let ready = move || {
        code.with(|code| code.chars().filter(char::is_ascii_digit).count() == 8)
            && person.with(|person| !person.is_empty())
            && !phone.saving.get()
    };
    let enrol = move |_| {
        phone.ask(Act::Enrol {
            code: code.get_untracked(),
            person: person.get_untracked(),
        });
    };
    let form = move |ship: ShipCard| {
        view! {
            <p>{words::ENROL_BODY}</p>
            <label class="field">
                <span>{words::CODE}</span>
                <input
                    class="code-input"
                    type="text"
                    inputmode="numeric"
                    autocomplete="one-time-code"
                    maxlength="9"
                    prop:value=code
                    on:input:target=move |event| code.set(event.target().value())
                />
            </label>
            <h2>{words::CHOOSE_NAME}</h2>
            <PersonPick
                people=people(&ship)
                chosen=person
                on_pick=move |id| person.set(id)
            />
            <button
                type="button"
                class="button is-primary enrol-button"
                disabled=move || !ready()
                on:click=enrol
            >
                {move || if phone.saving.get() { words::ENROLLING } else { words::ENROL }}
            </button>
        }
    };
    view! {
        <Title text=words::ENROL_TITLE />
        <div class="bow is-list">
            <BowHead title=words::ENROL_TITLE back="/bow" />
            <main class="bow-home enrol">
                {move || match ship.get() {
                    None => view! { <Empty head=words::LOADING body="" /> }.into_any(),
                    Some(Ok(ship)) => form(ship).into_any(),
                    Some(Err(why)) => {
                        view! {
                            <Empty head=words::CREW_UNREACHED body=why>
                                <button
                                    type="button"
                                    class="button is-primary"
                                    on:click=move |_| tries.update(|n| *n += 1)
                                >
                                    {words::TRY_AGAIN}
                                </button>
                            </Empty>
                        }
                            .into_any()
                    }
                }}
            </main>
        </div>
    }
}
