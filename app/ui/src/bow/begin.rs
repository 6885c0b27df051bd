//! Starting a procedure: the choices that decide which steps belong to the work are asked first.

use crate::parts::{Answer, Caution, Choice, Defer};
use crate::port::{Device, RecordCommand, device};
use crate::{time, words};
use journal::board::run_card;
use journal::{RunId, again};
use leptos::prelude::*;
use leptos_router::components::A;
use procedure::{Kind, Procedure, Step};
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
        .take_while(|step| !step.kind.options().is_empty())
        .map(|step| Asked {
            name: step.id.as_str().to_owned(),
            question: step.instruction.clone(),
            answers: step
                .kind
                .options()
                .iter()
                .map(|option| Answer {
                    id: option.key.clone(),
                    text: option.label.clone(),
                    note: String::new(),
                })
                .collect(),
        })
        .collect()
}

/// Puts down what was chosen, in place of what was chosen before.
fn choose(chosen: &mut Vec<(String, String)>, name: &str, option: String) {
    chosen.retain(|(known, _)| known != name);
    chosen.push((name.to_owned(), option));
}

/// Returns what was chosen in the order in which it was asked, whatever the order of the presses.
fn in_order(mut chosen: Vec<(String, String)>, names: &[String]) -> Vec<(String, String)> {
    chosen.sort_by_key(|(name, _)| names.iter().position(|known| known == name));
    chosen
}

/// The procedure whose choices are asked now, on a page from which procedures are started.
pub type Asking = RwSignal<Option<Arc<Procedure>>>;

/// Returns the open run of a procedure that was begun last, with when and by whom it was begun.
fn under_way(device: Device, slug: &str) -> Option<(RunId, i64, String)> {
    let now = device.system.now_ms.get_untracked();
    device.records.ledger.with_untracked(|ledger| {
        let ledger = ledger.as_ref()?;
        let cards = ledger
            .open_runs()
            .filter_map(|file| run_card(ledger, file.id, now));
        let newest = cards.filter(|card| card.slug == slug);
        let newest = newest.max_by_key(|card| card.started_ms)?;
        Some((newest.run, newest.started_ms, newest.started_by))
    })
}

/// Returns when an earlier run of the same day ended, of which something can be so still.
fn worked_today(device: Device, procedure: &Procedure) -> Option<String> {
    if !again::has_any(procedure) {
        return None;
    }
    let now_ms = device.system.now_ms.get_untracked();
    device.records.ledger.with_untracked(|ledger| {
        let before = again::earlier(ledger.as_ref()?, procedure, now_ms)?;
        Some(time::clock(before.view.closed?.at_ms))
    })
}

/// Says what a run will need before it is begun: people who sign, consents, a gas meter, photographs.
fn needs(procedure: &Procedure) -> String {
    let steps = procedure.steps();
    let any = |wanted: fn(&Step) -> bool| steps.iter().any(wanted);
    let mut consents: Vec<&str> = steps
        .iter()
        .filter_map(|step| Some(step.kind.consent()?.consent.words()))
        .collect();
    consents.sort_unstable();
    consents.dedup();
    let is_gas = |step: &Step| step.kind.points().iter().any(|point| point.key == "o2");
    let mut all: Vec<String> = Vec::new();
    if any(|step| step.second && !step.second_may_be_later() || !step.other_than.is_empty()) {
        all.push(words::NEEDS_TWO.to_owned());
    } else if any(|step| step.second) {
        all.push(words::NEEDS_TWO_LATER.to_owned());
    }
    all.extend(consents.into_iter().map(words::needs_consent));
    if any(is_gas) {
        all.push(words::NEEDS_GAS_METER.to_owned());
    }
    if any(|step| matches!(step.kind, Kind::Photo(_))) {
        all.push(words::NEEDS_CAMERA.to_owned());
    }
    all.join(", ")
}

/// Starts a procedure, or first asks its choices, and whether it is meant where one is under way already.
pub fn start(device: Device, asking: Asking, procedure: Arc<Procedure>) {
    if asked_first(&procedure).is_empty() && under_way(device, procedure.slug()).is_none() {
        device.dispatch(RecordCommand::Start {
            slug: procedure.slug().to_owned(),
            choices: Vec::new(),
        });
    } else {
        asking.set(Some(procedure));
    }
}

/// The procedures that can be started; one that begins with choices asks them in place of the list.
#[component]
pub fn Procedures() -> impl IntoView {
    let device = device();
    let asking = RwSignal::new(None::<Arc<Procedure>>);
    let list = Memo::new(move |_| {
        device.records.ledger.with(|ledger| {
            ledger
                .as_ref()
                .map(journal::Ledger::all_current)
                .unwrap_or_default()
        })
    });
    let row = move |procedure: Arc<Procedure>| {
        let (slug, title) = (procedure.slug().to_owned(), procedure.title().to_owned());
        let purpose = procedure.purpose().to_owned();
        let worked = worked_today(device, &procedure).map(
            |clock| view! { <span class="procedure-again">{words::worked_today(&clock)}</span> },
        );
        let needs = needs(&procedure);
        let needs = (!needs.is_empty())
            .then(|| view! { <span class="procedure-needs">{words::needs(&needs)}</span> });
        view! {
            <li>
                <button
                    type="button"
                    class="button procedure-start"
                    data-slug=slug
                    disabled=move || device.records.saving.get()
                    on:click=move |_| start(device, asking, Arc::clone(&procedure))
                >
                    <span class="procedure-title">{title}</span>
                    <span class="quiet">{purpose}</span>
                    {needs}
                    {worked}
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
                <A href="/foredeck">{words::forward::FOREDECK}</A>
                <A href="/drills">{words::forward::DRILLS}</A>
            </p>
            <Defer />
        }
        .into_any(),
    }
}

/// What is asked before a procedure starts, and the key that starts it.
#[component]
pub fn Choices(
    /// The procedure.
    procedure: Arc<Procedure>,
    /// Emptied when it is started or given up.
    asking: Asking,
) -> impl IntoView {
    let device = device();
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
                            chosen.update(|chosen| choose(chosen, &named, option));
                        }
                    />
                </fieldset>
            }
        })
        .collect_view();
    let already = under_way(device, procedure.slug());
    let begin = if already.is_some() {
        words::BEGIN_ANOTHER
    } else {
        words::BEGIN
    };
    let already = already.map(|(run, started_ms, by)| {
        let said = words::already_begun(&by, &time::date_clock(started_ms));
        view! {
            <p class="start-already">{said}</p>
            <A href=format!("/bow/run/{run}") attr:class="button is-primary">
                {words::GO_ON_WITH_IT}
            </A>
        }
    });
    let cautions = procedure.cautions().iter();
    let cautions = cautions.map(|text| view! { <Caution text=text.clone() /> });
    let cautions = cautions.collect_view();
    view! {
        <div class="start-choices">
            <h3 class="procedure-title">{procedure.title().to_owned()}</h3>
            {already}
            {cautions}
            {keys}
            <button
                type="button"
                class="button is-primary start-begin"
                disabled=move || device.records.saving.get() || chosen.with(Vec::len) < all
                on:click=move |_| {
                    let choices = in_order(chosen.get_untracked(), &names);
                    device.dispatch(RecordCommand::Start { slug: slug.clone(), choices });
                    asking.set(None);
                }
            >
                {begin}
            </button>
            <button type="button" class="button" on:click=move |_| asking.set(None)>
                {words::CANCEL}
            </button>
            <Defer />
        </div>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(slug: &str) -> Procedure {
        let mut all = procedure::library::all().into_iter();
        all.find(|procedure| procedure.slug() == slug)
            .expect("it is in the library")
    }

    #[cfg(feature = "ssr")]
    #[test]
    fn a_procedures_own_cautions_stand_where_it_is_begun() {
        let procedure = Arc::new(named("letting-go"));
        let cautions = procedure.cautions().to_vec();
        let choices = || {
            let asking = RwSignal::new(None);
            view! { <Choices procedure asking /> }
        };
        let html = crate::drawn::drawn(choices);
        assert!(!cautions.is_empty());
        for caution in &cautions {
            assert!(crate::drawn::shows(&html, caution), "{caution}: {html}");
        }
        assert!(
            crate::drawn::shows(&html, crate::words::DEFER.text()),
            "{html}"
        );
    }

    #[test]
    fn only_choices_that_stand_before_all_other_work_are_asked() {
        let asked = asked_first(&named("letting-go"));
        let names: Vec<&str> = asked.iter().map(|choice| choice.name.as_str()).collect();
        assert_eq!(names, ["anchor", "method"]);
        // These too have choices, further on: they are made when their time comes.
        for slug in ["anchors-ready", "weighing", "windlass-weekly"] {
            assert_eq!(asked_first(&named(slug)), [], "{slug}");
        }
    }

    #[test]
    fn every_answer_of_a_choice_is_offered_with_its_name_and_words() {
        let asked = asked_first(&named("letting-go"));
        let answers: Vec<_> = asked[0].answers.iter().collect();
        let offered: Vec<_> = answers.iter().map(|a| (&*a.id, &*a.text)).collect();
        assert_eq!(offered, [("port", "port"), ("starboard", "starboard")]);
    }

    #[test]
    fn a_choice_made_again_takes_the_place_of_the_one_before() {
        let mut chosen = Vec::new();
        for (name, option) in [("method", "walk"), ("anchor", "port"), ("method", "let-go")] {
            choose(&mut chosen, name, option.to_owned());
        }
        let names = ["anchor".to_owned(), "method".to_owned()];
        let pair = |a: &str, b: &str| (a.to_owned(), b.to_owned());
        assert_eq!(
            in_order(chosen, &names),
            [pair("anchor", "port"), pair("method", "let-go")]
        );
    }
}
