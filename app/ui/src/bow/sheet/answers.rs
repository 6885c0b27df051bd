//! The sheets of steps that one answer does: a choice, a count, words, a photograph.

use super::super::plan::{ordered, plan_of};
use super::super::run::working;
use super::{SheetMode, StepHead, sheet_state, to_fault};
use crate::bridge::plan::plans;
use crate::parts::{ActionSheet, Keypad, SheetState};
use crate::photo::{DevicePhoto, TakePhoto};
use crate::port::device;
use crate::words;
use leptos::prelude::*;
use procedure::{Event, Outcome, StepView};

/// The sheet of a step that is done by one answer: it waits for that, then for whatever else the step waits for.
#[component]
pub fn AnswerSheet(
    step: StepView,
    side: RwSignal<SheetMode>,
    /// The answer; none while there is none yet.
    #[prop(into)]
    answer: Signal<Option<Outcome>>,
    /// What is said while there is none.
    without: &'static str,
    /// Whether the answer still wants something, which the sheet itself says.
    #[prop(optional, into)]
    wants: Signal<bool>,
    /// What else the press puts on record, after the answer.
    #[prop(optional, into)]
    also: Option<Callback<(), Option<Event>>>,
    /// Where the answer is given.
    children: Children,
) -> impl IntoView {
    let working = working();
    let id = StoredValue::new(step.id.clone());
    let event = move || {
        Some(Event::Done {
            step: id.get_value(),
            outcome: answer.get()?,
        })
    };
    let refused = sheet_state(event);
    let state = Signal::derive(move || {
        if answer.with(Option::is_none) {
            return SheetState::Blocked(without.to_owned());
        }
        match (refused.get(), wants.get()) {
            (SheetState::Ready, true) => SheetState::Blocked(String::new()),
            (refused, _) => refused,
        }
    });
    view! {
        <ActionSheet
            primary=words::DONE
            on_primary=move |()| {
                if let Some(event) = event() {
                    let also = also.and_then(|also| also.run(()));
                    working.say_all(std::iter::once(event).chain(also).collect());
                }
            }
            secondary=words::NOT_SO
            on_secondary=to_fault(side)
            state
        >
            <StepHead step side />
            {children()}
        </ActionSheet>
    }
}

#[component]
pub fn ChoiceSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let at_start = working().card.with_untracked(|card| {
        let choices = &card.as_ref()?.view.choices;
        let found = choices.iter().find(|(name, _)| name == step.id.as_str());
        found.map(|(_, option)| option.clone())
    });
    let named = |label: &String| {
        let mut options = step.options.iter();
        options.find(|option| option.label == *label || option.key == *label)
    };
    let before = step.answer.as_ref().and_then(named);
    let chosen = RwSignal::new(before.map(|option| option.key.clone()).or(at_start));
    // The master's order is not gone against without a word: the reason goes to the bridge as a message.
    let ordered = {
        let plans = plans(device());
        let order = working()
            .card
            .with_untracked(|card| plans.with_untracked(|plans| plan_of(plans, card.as_ref()?)));
        order.and_then(|plan| ordered(&plan.order, step.kind.options()).cloned())
    };
    let reason = RwSignal::new(String::new());
    let against = {
        let ordered = ordered.clone();
        Memo::new(move |_| {
            let ordered = ordered.as_ref()?;
            let is_other =
                chosen.with(|chosen| chosen.as_ref().is_some_and(|key| *key != ordered.key));
            is_other.then(|| ordered.label.clone())
        })
    };
    let why = move || reason.with(|reason| reason.trim().to_owned());
    let answer = Signal::derive(move || {
        let option = chosen.get()?;
        Some(Outcome::Chosen { option })
    });
    let wants = Signal::derive(move || against.with(Option::is_some) && why().is_empty());
    let id = step.id.clone();
    let also = move |()| {
        let ordered = against.get_untracked()?;
        Some(Event::Message {
            step: Some(id.clone()),
            text: words::not_as_ordered(&ordered, &why()),
            photo: None,
            voice: None,
        })
    };
    let options = step
        .options
        .iter()
        .map(|option| {
            let (key, mine) = (option.key.clone(), option.key.clone());
            view! {
                <button
                    type="button"
                    class="button"
                    aria-pressed=move || (chosen.get().as_ref() == Some(&mine)).to_string()
                    on:click=move |_| chosen.set(Some(key.clone()))
                >
                    {option.label.clone()}
                </button>
            }
        })
        .collect_view();
    view! {
        <AnswerSheet step side answer without=words::CHOOSE_FIRST.text() wants also=Callback::new(also)>
            <div class="sheet-choices">{options}</div>
            {move || {
                against
                    .get()
                    .map(|ordered| {
                        view! {
                            <p class="sheet-words" role="status">{words::order_says(&ordered)}</p>
                            <label class="field">
                                <span>{words::WHY_NOT_AS_ORDERED}</span>
                                <textarea
                                    class="sheet-text"
                                    rows="2"
                                    prop:value=reason
                                    on:input:target=move |event| reason.set(event.target().value())
                                ></textarea>
                            </label>
                        }
                    })
            }}
        </AnswerSheet>
    }
}

#[component]
pub fn CountSheet(step: StepView, of: String, side: RwSignal<SheetMode>) -> impl IntoView {
    let typed = RwSignal::new(String::new());
    let answer = Signal::derive(move || {
        let count = typed.get().parse().ok()?;
        Some(Outcome::Counted { count })
    });
    let limit = step
        .points
        .first()
        .map(|point| point.limits.words.clone())
        .unwrap_or_default();
    view! {
        <AnswerSheet step side answer without=words::TYPE_FIRST.text()>
            <Keypad
                value=typed
                label=of.clone()
                unit=of
                limit
                on_change=move |text| typed.set(text)
            />
        </AnswerSheet>
    }
}

#[component]
pub fn TextSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let typed = RwSignal::new(step.answer.clone().unwrap_or_default());
    let answer = Signal::derive(move || {
        let text = typed.get().trim().to_owned();
        (!text.is_empty()).then_some(Outcome::Text { text })
    });
    let label = step.instruction.clone();
    view! {
        <AnswerSheet step side answer without=words::WRITE_FIRST.text()>
            <textarea
                class="sheet-text"
                rows="3"
                aria-label=label
                prop:value=typed
                on:input:target=move |event| typed.set(event.target().value())
            ></textarea>
        </AnswerSheet>
    }
}

#[component]
pub fn PhotoSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let taken = RwSignal::new(None::<[u8; 32]>);
    let before = step.photo;
    let alt = step.instruction.clone();
    let answer = Signal::derive(move || Some(Outcome::Photo { hash: taken.get()? }));
    view! {
        <AnswerSheet step side answer without=words::PHOTO_FIRST.text()>
            {before.map(|hash| view! { <DevicePhoto hash alt /> })}
            <TakePhoto input="step-photo" taken />
        </AnswerSheet>
    }
}
