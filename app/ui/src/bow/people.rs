//! Who is inside the space and who attends at the hatch: in and out, one press each, counted on the bridge.

use super::dates::{Offered, offered};
use super::readings::{Readings, ReadingsForm};
use super::run::{Working, working};
use super::sheet::{SheetMode, StepHead, sheet_state, to_fault};
use crate::parts::{ActionSheet, Caution, SheetState};
use crate::port::device;
use crate::run_links::name_in;
use crate::{time, words};
use journal::Person;
use journal::RunCard;
use leptos::prelude::*;
use procedure::{AlarmLevel, Event, LogEntry, Outcome, PersonId, StepId, StepView};

/// What the sheet asks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asking {
    /// Who is inside, and what to do next.
    List,
    /// Who goes in.
    In,
    /// Who goes in to a man down, under breathing apparatus.
    Rescue,
    /// Who attends.
    Attendant,
    /// What the air is.
    Air,
}

/// Returns the person whom a name that was typed means: one of the crew by name or identity, or a visitor.
pub(super) fn named(crew: &[Person], typed: &str) -> Option<PersonId> {
    let typed = PersonId::new(typed.split_whitespace().collect::<Vec<_>>().join(" "));
    if typed.is_nobody() {
        return None;
    }
    let is_meant = |member: &&Person| {
        PersonId::new(&*member.name).is_same(&typed) || PersonId::new(&*member.id).is_same(&typed)
    };
    let found = crew.iter().find(is_meant);
    Some(found.map_or(typed, |member| PersonId::new(&*member.id)))
}

/// The people in the space, who may go in, and what was read.
#[component]
pub fn PeopleSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let asking = RwSignal::new(Asking::List);
    let back = Callback::new(move |()| asking.set(Asking::List));
    move || match asking.get() {
        Asking::List => view! { <List step=step.clone() side asking /> }.into_any(),
        Asking::In | Asking::Rescue | Asking::Attendant => {
            let people = step.kind.people();
            let in_date = people.and_then(|people| people.in_date.clone());
            let in_date = in_date.unwrap_or_default();
            view! { <WhoSheet step=step.id.clone() in_date who=asking.get_untracked() back /> }
                .into_any()
        }
        Asking::Air => view! { <AirSheet step=step.clone() back /> }.into_any(),
    }
}

/// Returns who is inside, with a key for each that takes them out.
fn inside_keys(working: &Working, step: &StepId) -> impl IntoView + use<> {
    let working = *working;
    let crew = working.crew.get();
    let inside = working.card.with(|card| {
        let card = card.as_ref();
        card.map_or_else(Vec::new, |card| card.view.inside.clone())
    });
    let said = words::inside(inside.len());
    let row = |person: procedure::InsideView| {
        let name = name_in(&crew, &person.who);
        let name = if person.rescuer {
            words::of_the_rescue(&name)
        } else {
            name
        };
        let label = format!(
            "{name}, {} — {}",
            time::clock(person.since_ms),
            words::COMES_OUT
        );
        let out = Event::Out {
            step: step.clone(),
            who: person.who,
        };
        view! {
            <li>
                <button type="button" class="button" on:click=move |_| working.say(out.clone())>
                    {label}
                </button>
            </li>
        }
    };
    let rows = inside.into_iter().map(row).collect_view();
    view! {
        <p class="sheet-words">{said}</p>
        <ul class="people-inside">{rows}</ul>
    }
}

#[component]
fn List(step: StepView, side: RwSignal<SheetMode>, asking: RwSignal<Asking>) -> impl IntoView {
    let working = working();
    let id = StoredValue::new(step.id.clone());
    let people = step.kind.people();
    let watch = people.and_then(|people| people.watch.clone());
    let watch = watch.unwrap_or_default();
    let finish = Event::Done {
        step: step.id.clone(),
        outcome: Outcome::Confirmed,
    };
    let asked = finish.clone();
    let attends = move || {
        let crew = working.crew.get();
        working.card.with(|card| {
            let all = card.iter().flat_map(|card| &card.view.attendants);
            let here = all.filter(|attendant| attendant.step == id.get_value());
            let names: Vec<String> = here.map(|one| name_in(&crew, &one.who)).collect();
            names.join(", ")
        })
    };
    let is_inside = Memo::new(move |_| {
        let card = working.card.get();
        card.is_some_and(|card| !card.view.inside.is_empty())
    });
    let call = move |_| {
        working.say(Event::Log {
            step: id.get_value(),
            entry: LogEntry::default(),
        });
    };
    let reads = !watch.points.is_empty();
    let attended = watch.attendant;
    let finishing = sheet_state(move || Some(asked.clone()));
    let state = Signal::derive(move || {
        if is_inside.get() {
            SheetState::Ready
        } else {
            finishing.get()
        }
    });
    // While somebody is inside their names and the keys about them come first, and what the step says after them.
    view! {
        <ActionSheet
            primary=Signal::derive(move || {
                let primary = if is_inside.get() { "" } else { words::EVERYONE_OUT.text() };
                primary.to_owned()
            })
            on_primary=move |()| working.say(finish.clone())
            secondary=words::NOT_SO
            on_secondary=to_fault(side)
            state=state
        >
            {move || {
                is_inside.get().then(|| view! {
                    {worst_alarm(working.card)}
                    {move || inside_keys(&working, &id.get_value())}
                    <div class="sheet-choices is-people">
                        <button type="button" class="button" on:click=call>
                            {words::CALLED}
                        </button>
                        <button
                            type="button"
                            class="button is-alarm"
                            on:click=move |_| asking.set(Asking::Rescue)
                        >
                            {words::MAN_DOWN}
                        </button>
                    </div>
                })
            }}
            <StepHead step=step.clone() side />
            {attended
                .then(|| {
                    view! {
                        {move || {
                            let names = attends();
                            (!names.is_empty())
                                .then(|| view! { <p class="sheet-words">{words::attends(&names)}</p> })
                        }}
                        <button
                            type="button"
                            class="button"
                            on:click=move |_| asking.set(Asking::Attendant)
                        >
                            {move || {
                                if attends().is_empty() {
                                    words::NAME_ATTENDANT.text()
                                } else {
                                    words::OTHER_ATTENDANT.text()
                                }
                            }}
                        </button>
                    }
                })}
            <Show when=move || !is_inside.get()>
                <p class="sheet-words">{words::inside(0)}</p>
            </Show>
            <div class="sheet-choices">
                <button type="button" class="button" on:click=move |_| asking.set(Asking::In)>
                    {words::GOES_IN}
                </button>
                {reads
                    .then(|| {
                        view! {
                            <button
                                type="button"
                                class="button"
                                on:click=move |_| asking.set(Asking::Air)
                            >
                                {words::READ_AIR}
                            </button>
                        }
                    })}
            </div>
        </ActionSheet>
    }
}

/// The worst alarm of the run, on one line.
fn worst_alarm(card: Memo<Option<RunCard>>) -> impl IntoView {
    let worst = Memo::new(move |_| {
        card.with(|card| {
            let worst = card.as_ref()?.view.alarms.first()?;
            (worst.level == AlarmLevel::Danger).then(|| worst.words.clone())
        })
    });
    move || {
        worst
            .get()
            .map(|words| view! { <p class="people-alarm" role="alert">{words}</p> })
    }
}

/// Asks for one person: of the crew by a key, or a visitor by name.
#[component]
fn WhoSheet(step: StepId, in_date: Vec<String>, who: Asking, back: Callback<()>) -> impl IntoView {
    let working = working();
    let device = device();
    let typed = RwSignal::new(String::new());
    let event = move |who_is: PersonId| {
        let step = step.clone();
        match who {
            Asking::Attendant => Event::Attend { step, who: who_is },
            _ => Event::In {
                step,
                who: who_is,
                rescue: (who == Asking::Rescue).then_some(true),
            },
        }
    };
    let label = match who {
        Asking::Attendant => words::WHO_ATTENDS,
        Asking::Rescue => words::WHO_GOES_TO_RESCUE,
        _ => words::WHO_GOES_IN,
    };
    let visitor = {
        let event = event.clone();
        move || named(&working.crew.get(), &typed.get()).map(&event)
    };
    let refused = sheet_state(visitor.clone());
    let state = Signal::derive(move || {
        if typed.with(|typed| typed.trim().is_empty()) {
            SheetState::Blocked(words::NAME_FIRST.to_owned())
        } else {
            refused.get()
        }
    });
    let key = move |Offered {
                        person: member,
                        not_in_date,
                    }: Offered| {
        let event = event(PersonId::new(member.id));
        let why = working.refusal(&event);
        let is_refused = why.is_some();
        view! {
            <button
                type="button"
                class="button"
                disabled=is_refused
                on:click=move |_| {
                    working.say(event.clone());
                    back.run(());
                }
            >
                <span>{member.name}</span>
                {not_in_date.map(|said| view! { <small class="key-why not-in-date">{said}</small> })}
                {why.map(|why| view! { <small class="key-why">{why}</small> })}
            </button>
        }
    };
    let keys = move || {
        let crew = offered(device, working.crew.get(), &in_date);
        crew.into_iter().map(key.clone()).collect_view()
    };
    view! {
        <ActionSheet
            primary=words::WRITE_NAME
            on_primary=move |()| {
                if let Some(event) = visitor() {
                    working.say(event);
                    back.run(());
                }
            }
            secondary=words::CANCEL
            on_secondary=back
            state
        >
            <h2 class="sheet-title">{label}</h2>
            {(who == Asking::In).then(|| view! { <Caution text=words::ENTRY_CAUTION /> })}
            {(who == Asking::Rescue).then(|| view! { <Caution text=words::RESCUE_CAUTION.to_owned() /> })}
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
        </ActionSheet>
    }
}

/// Asks for the air where people work, every point of it, as one entry.
#[component]
fn AirSheet(step: StepView, back: Callback<()>) -> impl IntoView {
    let working = working();
    let id = step.id.clone();
    let on_read = move |readings: Readings| {
        working.say(Event::Log {
            step: id.clone(),
            entry: LogEntry {
                readings,
                ..LogEntry::default()
            },
        });
        back.run(());
    };
    view! { <ReadingsForm title=words::READ_AIR.text() points=step.points on_read back /> }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn crew() -> Vec<Person> {
        let person = |id: &str, name: &str| Person {
            id: id.to_owned(),
            name: name.to_owned(),
            rank: String::new(),
            roles: vec!["crew".to_owned()],
            joins_ms: None,
            leaves_ms: None,
        };
        vec![person("orrin", "Tam Orrin"), person("holt", "Maren Holt")]
    }

    #[test]
    fn a_name_typed_is_one_of_the_crew_where_it_is_theirs() {
        for typed in ["Tam Orrin", " tam  orrin ", "ORRIN"] {
            assert_eq!(
                named(&crew(), typed),
                Some(PersonId::new("orrin")),
                "{typed}"
            );
        }
    }

    #[test]
    fn a_name_of_nobody_aboard_is_a_visitors_and_no_name_is_none() {
        assert_eq!(named(&crew(), " Jo  Vane "), Some(PersonId::new("Jo Vane")));
        assert_eq!(named(&crew(), " \t "), None);
    }
}
