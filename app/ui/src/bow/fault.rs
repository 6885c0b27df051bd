//! Forms about a step: what is wrong with it, why it is not done, why the work may go on.

mod terms;

use super::run::working;
use super::sheet::{SheetMode, sheet_state};
use crate::parts::{ActionSheet, Caution};
use crate::photo::TakePhoto;
use crate::words;
use leptos::prelude::*;
use procedure::{Event, Severity, StepView};
use terms::Terms;

#[component]
fn Words(label: &'static str, text: RwSignal<String>) -> impl IntoView {
    view! {
        <label class="field">
            <span>{label}</span>
            <textarea
                class="sheet-text"
                rows="3"
                prop:value=text
                on:input:target=move |event| text.set(event.target().value())
            ></textarea>
        </label>
    }
}

/// What is wrong, and how bad it is: two taps and a word.
#[component]
pub fn FaultForm(
    step: StepView,
    on_back: impl Fn() + Copy + Send + Sync + 'static,
    side: RwSignal<SheetMode>,
) -> impl IntoView {
    let working = working();
    let text = RwSignal::new(String::new());
    let severity = RwSignal::new(Severity::Restricted);
    let photo = RwSignal::new(None::<[u8; 32]>);
    let terms = Terms::of_step(working.run.get_untracked(), &step.id);
    let id = step.id.clone();
    let event = move || Event::NotSo {
        step: id.clone(),
        severity: severity.get(),
        text: text.get().trim().to_owned(),
        photo: photo.get(),
        terms: terms.get(),
    };
    let asked = event.clone();
    let choices = [
        Severity::Watch,
        Severity::Restricted,
        Severity::OutOfService,
        Severity::Danger,
    ]
    .map(|level| {
        view! {
            <button
                type="button"
                class="button"
                aria-pressed=move || (severity.get() == level).to_string()
                on:click=move |_| severity.set(level)
            >
                {words::severity(level)}
            </button>
        }
    });
    let can_skip = !matches!(step.skip, procedure::Skip::Never);
    let can_go_on = matches!(
        step.status,
        procedure::Status::NotSo(_)
            | procedure::Status::OutOfLimits
            | procedure::Status::NotDone(_)
    );
    view! {
        <ActionSheet
            primary=words::RAISE
            on_primary=move |()| {
                working.say(event());
                on_back();
            }
            secondary=words::CANCEL
            on_secondary=Callback::new(move |()| on_back())
            state=sheet_state(move || Some(asked()))
        >
            <h2 class="sheet-title" data-step=step.id.to_string() data-text="procedure">{step.instruction.clone()}</h2>
            <Words label=words::SAY_WHAT_IS_WRONG.text() text />
            <p class="sheet-more">{words::HOW_BAD}</p>
            <div class="sheet-choices">{choices.into_iter().collect_view()}</div>
            {terms.fields(working.crew.get_untracked())}
            <TakePhoto input="fault-photo" taken=photo />
            {can_skip
                .then(|| {
                    view! {
                        <button
                            type="button"
                            class="button"
                            on:click=move |_| side.set(SheetMode::NotDone)
                        >
                            {words::NOT_DONE_INSTEAD}
                        </button>
                    }
                })}
            {can_go_on
                .then(|| {
                    view! {
                        <button
                            type="button"
                            class="button"
                            on:click=move |_| side.set(SheetMode::GoOn)
                        >
                            {words::GO_ON}
                        </button>
                    }
                })}
        </ActionSheet>
    }
}

#[component]
fn ReasonForm(
    step: StepView,
    label: &'static str,
    act: &'static str,
    #[prop(into)] event: Callback<String, Event>,
    on_back: Callback<()>,
    /// What can hurt someone by it.
    #[prop(optional, into)]
    caution: Option<String>,
) -> impl IntoView {
    let working = working();
    let text = RwSignal::new(String::new());
    let said = move || event.run(text.get().trim().to_owned());
    let asked = said;
    view! {
        <ActionSheet
            primary=act
            on_primary=move |()| {
                working.say(said());
                on_back.run(());
            }
            secondary=words::CANCEL
            on_secondary=on_back
            state=sheet_state(move || Some(asked()))
        >
            <h2 class="sheet-title" data-step=step.id.to_string() data-text="procedure">{step.instruction.clone()}</h2>
            {caution.map(|text| view! { <Caution text /> })}
            <Words label text />
        </ActionSheet>
    }
}

/// Why it is not done.
#[component]
pub fn NotDoneForm(
    step: StepView,
    on_back: impl Fn() + Copy + Send + Sync + 'static,
) -> impl IntoView {
    let id = step.id.clone();
    view! {
        <ReasonForm
            step
            label=words::WHY_NOT_DONE.text()
            act=words::NOT_DONE_INSTEAD.text()
            event=move |reason| Event::NotDone { step: id.clone(), reason }
            caution=words::NOT_DONE_CAUTION.to_owned()
            on_back=Callback::new(move |()| on_back())
        />
    }
}

/// Why the work may go on, by the officer.
#[component]
pub fn GoOnForm(
    step: StepView,
    on_back: impl Fn() + Copy + Send + Sync + 'static,
) -> impl IntoView {
    let id = step.id.clone();
    view! {
        <ReasonForm
            step
            label=words::GO_ON_REASON.text()
            act=words::GO_ON.text()
            event=move |reason| Event::GoOn { step: id.clone(), reason }
            caution=words::GO_ON_CAUTION.to_owned()
            on_back=Callback::new(move |()| on_back())
        />
    }
}

/// Why an entry is wrong; it stays readable, struck out.
#[component]
pub fn StrikeForm(
    step: StepView,
    event: [u8; 32],
    on_back: impl Fn() + Copy + Send + Sync + 'static,
) -> impl IntoView {
    view! {
        <ReasonForm
            step
            label=words::STRIKE_REASON.text()
            act=words::STRIKE_OUT.text()
            event=move |reason| Event::StrikeOut { event, reason }
            on_back=Callback::new(move |()| on_back())
        />
    }
}
