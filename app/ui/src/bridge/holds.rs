//! What waits for the officer: holds, consents heard by radio, questions.

use super::board::heard;
use crate::hold_facts::{Fact, StandsOn, facts};
use crate::parts::{Defer, HoldButton, LinkMark, LinkState};
use crate::port::{Device, DeviceState, Me, RecordCommand, device};
use crate::run_links::name_in;
use crate::{time, words};
use journal::{Person, RunCard, RunId};
use leptos::prelude::*;
use leptos_router::components::A;
use procedure::{ConsentBy, Event, PersonId, QuestionView, Role, StepId, StepView};

#[derive(Debug, Clone, PartialEq)]
struct Waiting {
    run: RunId,
    title: String,
    step: StepView,
    before: String,
    /// That the consent was refused, by whom and when.
    refused: Option<String>,
    consent: Role,
    asked_ms: i64,
    defects: usize,
    /// What was done before it, the last first.
    facts: Vec<Fact>,
}

/// Returns who brought the run to a hold, and when: whoever did the last step before it in the procedure's order.
fn done_before<'a>(card: &'a RunCard, hold: &StepId) -> Option<(&'a PersonId, i64)> {
    let before = card.view.steps.iter().take_while(|step| step.id != *hold);
    let done = before.filter(|step| step.applies && step.passed);
    let signed = done.filter_map(|step| Some((step.by.as_ref()?, step.at_ms?)));
    signed.last()
}

/// Says that the last answer at a hold was no, where it was.
fn last_no(card: &RunCard, hold: &StepId, crew: &[Person]) -> Option<String> {
    let mut newest_first = card.view.history.iter().rev();
    let last = newest_first.find_map(|line| match &line.event {
        Event::Consent { step, granted, .. }
            if step == hold && line.struck.is_none() && !line.without_right =>
        {
            Some((line, *granted))
        }
        _ => None,
    });
    let (line, granted) = last?;
    (!granted).then(|| words::last_no(&name_in(crew, &line.by), &time::clock(line.at_ms)))
}

/// Holds that wait, first and largest.
#[component]
pub fn Holds() -> impl IntoView {
    let heard = heard();
    let waiting = Memo::new(move |_| {
        heard.board.with(|board| {
            let Some(board) = board else {
                return Vec::new();
            };
            let mut all = Vec::new();
            for card in &board.open {
                for id in &card.view.holds {
                    let Some(step) = card.view.steps.iter().find(|step| step.id == *id) else {
                        continue;
                    };
                    let Some(hold) = step.kind.consent() else {
                        continue;
                    };
                    let before = done_before(card, id);
                    let who = before.map(|(by, _)| name_in(&board.crew, by));
                    all.push(Waiting {
                        run: card.run,
                        title: card.title.clone(),
                        step: step.clone(),
                        before: who.unwrap_or_else(|| card.started_by.clone()),
                        refused: last_no(card, id, &board.crew),
                        consent: hold.consent,
                        asked_ms: before.map_or(card.started_ms, |(_, at_ms)| at_ms),
                        defects: card.view.defects.iter().filter(|d| d.open).count(),
                        facts: facts(&card.view, id, &board.crew),
                    });
                }
            }
            // A run may be closed before the officer has seen that their word was taken for it.
            for card in board.open.iter().chain(&board.closed) {
                let heard = |step: &&StepView| step.awaiting_countersign.is_some();
                all.extend(card.view.steps.iter().filter(heard).map(|step| Waiting {
                    run: card.run,
                    title: card.title.clone(),
                    step: step.clone(),
                    before: String::new(),
                    refused: None,
                    consent: Role::Officer,
                    asked_ms: step.at_ms.unwrap_or(card.started_ms),
                    defects: 0,
                    facts: Vec::new(),
                }));
            }
            all
        })
    });
    move || {
        let waiting = waiting.get();
        (!waiting.is_empty()).then(|| {
            view! {
                <section class="bridge-holds" aria-label=words::HOLDS>
                    {waiting.into_iter().map(|one| view! { <HoldCard one /> }).collect_view()}
                    <Defer />
                </section>
            }
        })
    }
}

/// The two keys of an answer: yes is held, no is pressed.
fn answer_keys(
    device: Device,
    run: RunId,
    (yes, no): (&'static str, &'static str),
    (granted, refused): (Event, Event),
) -> impl IntoView {
    let say = move |event: &Event| {
        device.dispatch(RecordCommand::Say {
            run,
            event: Box::new(event.clone()),
        });
    };
    view! {
        <HoldButton label=yes disabled=device.records.saving on_held=move |()| say(&granted) />
        <button
            type="button"
            class="button"
            disabled=move || device.records.saving.get()
            on:click=move |_| say(&refused)
        >
            {no}
        </button>
    }
}

#[component]
fn HoldCard(one: Waiting) -> impl IntoView {
    let heard = heard();
    let device = device();
    let step_id = one.step.id.clone();
    let run = one.run;
    let answer = move |granted: bool| Event::Consent {
        step: step_id.clone(),
        granted,
        how: ConsentBy::Network,
        words: if granted {
            String::new()
        } else {
            words::REFUSED_FROM_BRIDGE.to_owned()
        },
    };
    let why = {
        let (before, defects, asked_ms) = (one.before.clone(), one.defects, one.asked_ms);
        move || {
            let ago = time::span(heard.server_now_ms.get() - asked_ms);
            words::hold_asked(&before, &time::clock(asked_ms), &ago, defects)
        }
    };
    let countersign = one.step.awaiting_countersign.clone();
    let consent = one.consent;
    // Who was named says whether it was so, or the master; of nobody else is it asked.
    let is_asked = {
        let from = countersign.as_ref().map(|awaiting| awaiting.from.clone());
        move |me: &Me| {
            let is_named = from.as_ref().is_none_or(|from| from.as_str() == me.person);
            me.roles.may_act_as(consent) && (is_named || me.roles.may_act_as(Role::Master))
        }
    };
    let asked_of = countersign.as_ref().map(|awaiting| {
        heard.board.with_untracked(|board| {
            let crew = board.as_ref().map_or(&[][..], |board| &board.crew);
            let (from, by) = (&awaiting.from, &awaiting.heard_by);
            words::asked_of(
                &name_in(crew, from),
                &name_in(crew, by),
                &time::clock(one.asked_ms),
            )
        })
    });
    let is_countersign = countersign.is_some();
    // What was answered here stands in this device's own records, whether the ship has heard of it or not.
    let answered = {
        let step = one.step.id.clone();
        let countersign = countersign.clone();
        Memo::new(move |_| {
            let now = device.system.now_ms.get_untracked();
            device.records.ledger.with(|ledger| {
                let state = ledger.as_ref()?.run(run)?.state.clone()?;
                let view = state.view(now);
                let mine = view.steps.into_iter().find(|known| known.id == step)?;
                let is_answered = match &countersign {
                    Some(_) => mine.awaiting_countersign.is_none(),
                    None => mine.passed,
                };
                is_answered.then_some(())
            })
        })
    };
    let keys = move || match device.identity.state.get() {
        DeviceState::Enrolled(_) if answered.get().is_some() => {
            view! { <p class="hold-unsent" role="status">{words::ANSWER_NOT_SENT}</p> }.into_any()
        }
        DeviceState::Enrolled(me) if is_asked(&me) => {
            if let Some(awaiting) = countersign.clone() {
                let sign = |granted: bool| Event::Countersign {
                    event: awaiting.event,
                    granted,
                    words: if granted {
                        String::new()
                    } else {
                        words::NOT_SAID_WORDS.to_owned()
                    },
                };
                let answers = (sign(true), sign(false));
                answer_keys(
                    device,
                    run,
                    (words::COUNTERSIGN.text(), words::NOT_SAID.text()),
                    answers,
                )
                .into_any()
            } else {
                let answers = (answer(true), answer(false));
                answer_keys(
                    device,
                    run,
                    (words::GIVE_CONSENT.text(), words::REFUSE_CONSENT.text()),
                    answers,
                )
                .into_any()
            }
        }
        DeviceState::Enrolled(_) if is_countersign => ().into_any(),
        DeviceState::Enrolled(_) => view! { <p class="quiet">{words::NOT_OFFICER}</p> }.into_any(),
        _ => view! {
            <A href="/bow/enrol" attr:class="button">
                {words::ENROL_TO_CONSENT}
            </A>
        }
        .into_any(),
    };
    let cautions = one.step.cautions.iter().map(|caution| {
        view! { <p class="hold-caution">{caution.clone()}</p> }
    });
    let cautions = cautions.collect_view();
    let stands_on =
        view! { <StandsOn begins_open=true facts=one.facts.clone() now_ms=heard.server_now_ms /> };
    view! {
        <article class="hold-card">
            <LinkMark state=LinkState::Hold />
            <p class="hold-what">{one.step.instruction.clone()}</p>
            <p class="hold-why">
                {one.title.clone()} ". " {why}
                {asked_of.map(|asked| view! { " " {asked} })}
            </p>
            {one.refused.map(|refused| view! { <p class="hold-refused">{refused}</p> })}
            {cautions}
            {stands_on}
            <div class="hold-act">{keys}</div>
        </article>
    }
}

/// Questions that only an officer can answer: one device says in limits, another out.
#[component]
pub fn Questions() -> impl IntoView {
    let heard = heard();
    let open = Memo::new(move |_| {
        heard.board.with(|board| {
            let Some(board) = board else {
                return Vec::<(RunId, QuestionView)>::new();
            };
            board
                .open
                .iter()
                .flat_map(|card| card.view.questions.iter().map(|q| (card.run, q.clone())))
                .filter(|(_, question)| question.answer.is_none())
                .collect()
        })
    });
    move || {
        let open = open.get();
        (!open.is_empty()).then(|| {
            view! {
                <section class="bridge-questions">
                    <h2 class="bridge-heading">{words::QUESTIONS}</h2>
                    {open
                        .into_iter()
                        .map(|(run, question)| view! { <Question run question /> })
                        .collect_view()}
                </section>
            }
        })
    }
}

#[component]
fn Question(run: RunId, question: QuestionView) -> impl IntoView {
    let device = device();
    let id = question.id.clone();
    let choices = question
        .events
        .iter()
        .map(|event| {
            let answer = Event::AnswerQuestion {
                question: id.clone(),
                stands: Some(event.event),
                reason: words::ANSWERED_FROM_BRIDGE.to_owned(),
            };
            view! {
                <button
                    type="button"
                    class="button"
                    on:click=move |_| {
                        device.dispatch(RecordCommand::Say { run, event: Box::new(answer.clone()) });
                    }
                >
                    {time::clock(event.at_ms)}
                    " "
                    {event.words.clone()}
                </button>
            }
        })
        .collect_view();
    view! {
        <article class="question">
            <p>{question.words.clone()}</p>
            <div class="sheet-choices">{choices}</div>
        </article>
    }
}
