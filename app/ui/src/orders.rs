//! What only an officer can order of a run: go on past a fault, take the work up again, break it off.
//!
//! Each needs a reason, which is kept with the order; whether it may be given is the engine's to say.

use crate::parts::{Caution, Defer, HoldButton};
use crate::port::{Device, RecordCommand, device};
use crate::words;
use journal::{RunCard, RunId};
use leptos::prelude::*;
use procedure::{End, Event, PersonId, Role, Status, StepId, StepView};

/// Says why the person enrolled here may not put `event` on record now; `None` if they may.
pub fn refusal(device: Device, run: RunId, event: &Event) -> Option<String> {
    let me = device.me()?;
    let now = device.system.now_ms.get();
    device.records.ledger.with(|ledger| {
        // The board is heard before this device has the records: what is not here cannot be judged yet.
        let file = ledger.as_ref().and_then(|ledger| ledger.run(run));
        let Some(state) = file.and_then(|file| file.state.clone()) else {
            return Some(words::RUN_NOT_HERE_YET.to_owned());
        };
        let by = PersonId::new(me.person.clone());
        procedure::check(&state, now, &by, me.roles, event)
            .err()
            .map(|refusal| {
                words::engine::refusal(&refusal, |who| state.crew().name(who).to_owned())
            })
    })
}

/// A reason to be written, and an order to be held.
#[component]
pub fn Order(
    /// The run.
    run: RunId,
    /// What is asked.
    label: &'static str,
    /// What holding does.
    act: &'static str,
    /// Makes the event of the reason.
    #[prop(into)]
    event: Callback<String, Event>,
    /// Called when it was held.
    #[prop(optional, into)]
    on_done: Option<Callback<()>>,
) -> impl IntoView {
    let device = device();
    let text = RwSignal::new(String::new());
    let said = move || event.run(text.with(|text| text.trim().to_owned()));
    let why_not = Memo::new(move |_| refusal(device, run, &said()));
    let blank = move || text.with(|text| text.trim().is_empty());
    view! {
        <div class="order">
            <label class="field">
                <span>{label}</span>
                <textarea
                    class="sheet-text"
                    rows="2"
                    prop:value=text
                    on:input:target=move |event| text.set(event.target().value())
                ></textarea>
            </label>
            {move || {
                (!blank())
                    .then(|| why_not.get())
                    .flatten()
                    .map(|why| view! { <p class="sheet-blocked">{why}</p> })
            }}
            <HoldButton
                label=act
                disabled=Signal::derive(move || {
                    device.records.saving.get() || blank() || why_not.get().is_some()
                })
                on_held=move |()| {
                    device.dispatch(RecordCommand::Say { run, event: Box::new(said()) });
                    text.set(String::new());
                    if let Some(on_done) = on_done {
                        on_done.run(());
                    }
                }
            />
        </div>
    }
}

/// A step that the work cannot pass without an officer's word.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Fault {
    step: StepId,
    instruction: String,
    standing: String,
}

fn fault(step: &StepView) -> Option<Fault> {
    let is_fault = match &step.status {
        Status::NotSo(_) | Status::OutOfLimits | Status::NotDone(_) => step.gone_on.is_none(),
        Status::Waiting(_) | Status::ToDo | Status::Held | Status::Done | Status::Stale => false,
    };
    (step.applies && !step.passed && is_fault).then(|| Fault {
        step: step.id.clone(),
        instruction: step.instruction.clone(),
        standing: step.words.clone(),
    })
}

/// Returns the steps past which an officer may let the work go now.
fn faults(device: Device, run: RunId, card: &RunCard) -> Vec<Fault> {
    let found = card.view.steps.iter().filter_map(fault);
    let mut all: Vec<Fault> = found.collect();
    // A step that waits for another run has no fault of its own; the engine says whether one may go on.
    let waits = card
        .view
        .steps
        .iter()
        .filter(|step| step.applies && matches!(step.status, Status::Waiting(_)));
    for step in waits {
        let order = Event::GoOn {
            step: step.id.clone(),
            reason: "asked".to_owned(),
        };
        if refusal(device, run, &order).is_none() {
            all.push(Fault {
                step: step.id.clone(),
                instruction: step.instruction.clone(),
                standing: step.words.clone(),
            });
        }
    }
    all
}

/// The officer's orders for one run; nothing at all for anyone else.
#[component]
pub fn Orders(
    /// The run.
    run: RunId,
    /// Its card.
    card: Memo<Option<RunCard>>,
) -> impl IntoView {
    let device = device();
    let is_officer = Memo::new(move |_| {
        device
            .me()
            .is_some_and(|me| me.roles.may_act_as(Role::Officer))
    });
    let open = Memo::new(move |_| {
        card.with(|card| {
            card.as_ref()
                .filter(|card| card.view.closed.is_none())
                .map(|card| faults(device, run, card))
        })
    });
    let stopped = Memo::new(move |_| {
        card.with(|card| {
            card.as_ref()
                .is_some_and(|card| card.view.stopped.is_some())
        })
    });
    move || {
        (is_officer.get() && open.with(Option::is_some)).then(|| {
            view! {
                <section class="orders" aria-label=words::ORDERS>
                    {move || {
                        stopped
                            .get()
                            .then(|| {
                                view! {
                                    <Caution text=words::RESUME_CAUTION />
                                    <Order
                                        run
                                        label=words::RESUME_REASON.text()
                                        act=words::RESUME.text()
                                        event=|reason| Event::Resume { reason }
                                    />
                                }
                            })
                    }}
                    {move || {
                        open.get()
                            .unwrap_or_default()
                            .into_iter()
                            .map(|fault| view! { <GoOn run fault /> })
                            .collect_view()
                    }}
                    <details class="order-more">
                        <summary>{words::BREAK_OFF}</summary>
                        <Order
                            run
                            label=words::BREAK_OFF_REASON.text()
                            act=words::BREAK_OFF.text()
                            event=|remark| Event::Close { end: End::BrokenOff, remark }
                        />
                        <Defer />
                    </details>
                </section>
            }
        })
    }
}

#[component]
fn GoOn(run: RunId, fault: Fault) -> impl IntoView {
    let step = fault.step.clone();
    view! {
        <details class="order-more is-fault">
            <summary>
                {words::GO_ON} ": " {fault.instruction}
            </summary>
            <p class="sheet-words">{fault.standing}</p>
            <Caution text=words::GO_ON_CAUTION />
            <Order
                run
                label=words::GO_ON_REASON.text()
                act=words::GO_ON.text()
                event=move |reason| Event::GoOn { step: step.clone(), reason }
            />
        </details>
    }
}

#[cfg(all(test, feature = "ssr"))]
mod tests {
    use super::*;
    use crate::drawn::{drawn, shows};

    #[test]
    fn going_on_all_the_same_says_what_can_come_of_it() {
        let fault = Fault {
            step: StepId::new("brakes"),
            instruction: "Band brakes on".to_owned(),
            standing: "not so".to_owned(),
        };
        let html = drawn(|| view! { <GoOn run=record::RecordId([0; 32]) fault /> });
        assert!(shows(&html, words::GO_ON_CAUTION.text()), "{html}");
    }
}
