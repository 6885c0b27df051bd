//! Who is inside the space: in and out, one press each, counted on the bridge.

use super::run::working;
use super::sheet::{Side, StepHead, sheet_state};
use crate::parts::ActionSheet;
use crate::run_links::name_in;
use crate::{time, words};
use leptos::prelude::*;
use procedure::{Event, Outcome, PersonId, StepView};

/// The people in the space, and who may go in.
#[component]
pub fn PeopleSheet(step: StepView, side: RwSignal<Side>) -> impl IntoView {
    let working = working();
    let id = StoredValue::new(step.id.clone());
    let inside = Memo::new(move |_| {
        working.card.with(|card| {
            card.as_ref()
                .map(|card| card.view.inside.clone())
                .unwrap_or_default()
        })
    });
    let finish = Event::Done {
        step: step.id.clone(),
        outcome: Outcome::Confirmed,
    };
    let asked = finish.clone();
    let call = move |_| {
        working.say(Event::Log {
            step: id.get_value(),
            entry: procedure::LogEntry::default(),
        });
    };
    view! {
        <ActionSheet
            primary=words::EVERYONE_OUT
            on_primary=move |()| working.say(finish.clone())
            secondary=words::NOT_SO
            on_secondary=Callback::new(move |()| side.set(Side::Fault))
            state=sheet_state(move || Some(asked.clone()))
        >
            <StepHead step=step.clone() side />
            <ul class="people-inside">
                {move || {
                    let crew = working.crew.get();
                    inside
                        .get()
                        .into_iter()
                        .map(|person| {
                            let name = name_in(&crew, &person.who);
                            let who = person.who.clone();
                            view! {
                                <li>
                                    <button
                                        type="button"
                                        class="button"
                                        on:click=move |_| {
                                            working
                                                .say(Event::Out {
                                                    step: id.get_value(),
                                                    who: who.clone(),
                                                });
                                        }
                                    >
                                        {name}
                                        ", "
                                        {time::clock(person.since_ms)}
                                        " — "
                                        {words::COMES_OUT}
                                    </button>
                                </li>
                            }
                        })
                        .collect_view()
                }}
            </ul>
            {move || {
                (!inside.get().is_empty())
                    .then(|| {
                        view! {
                            <button type="button" class="button" on:click=call>
                                {words::CALLED}
                            </button>
                        }
                    })
            }}
            <p class="sheet-more">{words::WHO_GOES_IN}</p>
            <div class="sheet-choices">
                {move || {
                    let inside = inside.get();
                    working
                        .crew
                        .get()
                        .into_iter()
                        .filter(|member| !inside.iter().any(|p| p.who.as_str() == member.id))
                        .map(|member| {
                            let who = PersonId::new(member.id.clone());
                            view! {
                                <button
                                    type="button"
                                    class="button"
                                    on:click=move |_| {
                                        working
                                            .say(Event::In {
                                                step: id.get_value(),
                                                who: who.clone(),
                                            });
                                    }
                                >
                                    {member.name.clone()}
                                </button>
                            }
                        })
                        .collect_view()
                }}
            </div>
        </ActionSheet>
    }
}
