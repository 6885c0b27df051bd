//! Starting a procedure: the choices that decide which steps belong to the work are asked first.

use crate::parts::{Answer, Choice};
use crate::port::{Act, phone};
use crate::words;
use leptos::prelude::*;
use leptos_router::components::A;
use procedure::{Kind, Procedure};
use std::sync::Arc;

/// One choice that is asked before the start.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Asked {
    name: String,
    question: String,
    answers: Vec<Answer>,
}

/// Returns the choices with which a procedure begins: those before any other step. A choice further on is
/// made when its time comes, with what has been seen by then.
fn asked_first(procedure: &Procedure) -> Vec<Asked> {
    procedure
        .steps()
        .iter()
        .map_while(|step| match &step.kind {
            Kind::Choice { options } => Some(Asked {
                name: step.id.as_str().to_owned(),
                question: step.instruction.clone(),
                answers: options
                    .iter()
                    .map(|option| Answer {
                        id: option.key.clone(),
                        text: option.label.clone(),
                        note: String::new(),
                    })
                    .collect(),
            }),
            _ => None,
        })
        .collect()
}

/// The procedures that can be started; one that begins with choices asks them in place of the list.
#[component]
pub fn Procedures() -> impl IntoView {
    let phone = phone();
    let asking = RwSignal::new(None::<Arc<Procedure>>);
    let list = Memo::new(move |_| {
        phone.ledger.with(|ledger| {
            ledger
                .as_ref()
                .map(journal::Ledger::all_current)
                .unwrap_or_default()
        })
    });
    let start = move |procedure: Arc<Procedure>| {
        if asked_first(&procedure).is_empty() {
            phone.ask(Act::Start {
                slug: procedure.slug().to_owned(),
                choices: Vec::new(),
            });
        } else {
            asking.set(Some(procedure));
        }
    };
    let row = move |procedure: Arc<Procedure>| {
        let (slug, title) = (procedure.slug().to_owned(), procedure.title().to_owned());
        let purpose = procedure.purpose().to_owned();
        view! {
            <li>
                <button
                    type="button"
                    class="button procedure-start"
                    data-slug=slug
                    disabled=move || phone.saving.get()
                    on:click=move |_| start(Arc::clone(&procedure))
                >
                    <span class="procedure-title">{title}</span>
                    <span class="quiet">{purpose}</span>
                </button>
            </li>
        }
    };
    move || match asking.get() {
        Some(procedure) => view! { <Choices procedure asking /> }.into_any(),
        None => view! {
            <ul class="procedure-list">{move || list.get().into_iter().map(row).collect_view()}</ul>
            <p class="procedure-ways">
                <A href="/rounds">{words::ROUNDS}</A>
                <A href="/defects">{words::DEFECTS}</A>
                <A href="/procedures">{words::PROCEDURES}</A>
            </p>
        }
        .into_any(),
    }
}

#[component]
fn Choices(procedure: Arc<Procedure>, asking: RwSignal<Option<Arc<Procedure>>>) -> impl IntoView {
    let phone = phone();
    let asked = asked_first(&procedure);
    let names: Vec<String> = asked.iter().map(|choice| choice.name.clone()).collect();
    let chosen = RwSignal::new(Vec::<(String, String)>::new());
    let slug = procedure.slug().to_owned();
    let all = names.len();
    let keys = asked
        .into_iter()
        .map(|choice| {
            let (mine, named) = (choice.name.clone(), choice.name);
            let is = Signal::derive(move || {
                chosen.with(|chosen| {
                    let found = chosen.iter().find(|(name, _)| *name == mine);
                    found.map(|(_, option)| option.clone()).unwrap_or_default()
                })
            });
            view! {
                <fieldset class="start-choice">
                    <legend>{choice.question}</legend>
                    <Choice
                        answers=choice.answers
                        chosen=is
                        on_choose=move |option: String| {
                            chosen
                                .update(|chosen| {
                                    chosen.retain(|(name, _)| *name != named);
                                    chosen.push((named.clone(), option));
                                });
                        }
                    />
                </fieldset>
            }
        })
        .collect_view();
    view! {
        <div class="start-choices">
            <h3 class="procedure-title">{procedure.title().to_owned()}</h3>
            {keys}
            <button
                type="button"
                class="button is-primary start-begin"
                disabled=move || phone.saving.get() || chosen.with(Vec::len) < all
                on:click=move |_| {
                    let mut choices = chosen.get_untracked();
                    choices.sort_by_key(|(name, _)| names.iter().position(|known| known == name));
                    phone.ask(Act::Start { slug: slug.clone(), choices });
                    asking.set(None);
                }
            >
                {words::BEGIN}
            </button>
            <button type="button" class="button" on:click=move |_| asking.set(None)>
                {words::CANCEL}
            </button>
        </div>
    }
}
