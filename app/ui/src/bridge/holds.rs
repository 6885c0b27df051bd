//! What waits for the officer: holds, consents heard by radio, questions.

use super::board::heard;
use crate::parts::{HoldButton, LinkMark, LinkState};
use crate::port::{Device, DeviceState, RecordCommand, device};
use crate::run_links::name_in;
use crate::{time, words};
use journal::RunId;
use leptos::prelude::*;
use leptos_router::components::A;
use procedure::{ConsentBy, Event, QuestionView, Role, StepView};

#[derive(Debug, Clone, PartialEq)]
struct Waiting {
    run: RunId,
    title: String,
    step: StepView,
    before: String,
    consent: Role,
    asked_ms: i64,
    defects: usize,
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
                    let who = card
                        .view
                        .history
                        .last()
                        .map(|line| name_in(&board.crew, &line.by));
                    all.push(Waiting {
                        run: card.run,
                        title: card.title.clone(),
                        step: step.clone(),
                        before: who.unwrap_or_else(|| card.started_by.clone()),
                        consent: hold.consent,
                        asked_ms: card.view.last_at_ms.unwrap_or(card.started_ms),
                        defects: card.view.defects.iter().filter(|d| d.open).count(),
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
                    consent: Role::Officer,
                    asked_ms: step.at_ms.unwrap_or(card.started_ms),
                    defects: 0,
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
    let keys = move || match device.identity.state.get() {
        DeviceState::Enrolled(me) if me.roles.may_act_as(consent) => {
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
        DeviceState::Enrolled(_) => view! { <p class="quiet">{words::NOT_OFFICER}</p> }.into_any(),
        _ => view! {
            <A href="/bow/enrol" attr:class="button">
                {words::ENROL_TO_CONSENT}
            </A>
        }
        .into_any(),
    };
    view! {
        <article class="hold-card">
            <LinkMark state=LinkState::Hold />
            <p class="hold-what">{one.step.instruction.clone()}</p>
            <p class="hold-why">
                {one.title.clone()} ". " {why}
                {one
                    .step
                    .awaiting_countersign
                    .as_ref()
                    .map(|_| view! { " " {words::HEARD_BY_RADIO_AWAITS} })}
            </p>
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
