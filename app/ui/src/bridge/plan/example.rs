//! An example that opens beside the figures: to be read, never to be signed.

use super::checks;
use super::draft::{Draft, moved_to};
use super::fields::{self, Choices, Field, Group, Kind};
use super::outcome::{Also, Checks, DepthOverStay, Hanging, Proposal, Swing, WindLimits};
use super::{order, rule_table::RulesBesideEachOther};
use crate::parts::{StatusWord, Tone};
use crate::port::device;
use crate::words::plan as words;
use leptos::prelude::*;
use seamanship::plan::PlanInput;
use seamanship::time::UtcMs;

/// The key that opens the example, and the example. It has a plan of its own, so that nothing of it can come into the
/// figures that are signed.
#[component]
pub fn ExampleBeside() -> impl IntoView {
    let is_open = RwSignal::new(false);
    view! {
        <aside class="plan-example" aria-label=words::EXAMPLE_OPEN>
            <button
                type="button"
                class="button is-quiet"
                aria-expanded=move || is_open.get().to_string()
                on:click=move |_| is_open.update(|open| *open = !*open)
            >
                {move || {
                    let said = if is_open.get() { words::EXAMPLE_CLOSE } else { words::EXAMPLE_OPEN };
                    said.text()
                }}
            </button>
            {move || is_open.get().then(|| view! { <Example /> })}
        </aside>
    }
}

#[component]
fn Example() -> impl IntoView {
    let now = UtcMs(device().system.now_ms.get_untracked());
    let draft = Draft::of(&moved_to(PlanInput::aldermere_demo(), now));
    let figures = Group::ALL
        .map(|group| figures_of(&draft, group))
        .collect_view();
    let worked = draft.work();
    let said = order::order(&worked.input, &worked.output);
    let failing = checks::failing(&worked);
    let work = Memo::new(move |_| Some(worked.clone()));
    view! {
        <p class="plan-from"><StatusWord tone=Tone::Wait word=words::EXAMPLE /></p>
        <details class="plan-example-figures">
            <summary>{words::EXAMPLE_FIGURES}</summary>
            {figures}
        </details>
        {checks::failing_lines(failing)}
        <Proposal work order=Signal::stored(said) />
        <Checks work />
        <Hanging work />
        <WindLimits work />
        <Swing work />
        <DepthOverStay work />
        <RulesBesideEachOther work />
        <Also work />
    }
}

/// What one of several is called on the page.
fn chosen(choices: &Choices, name: &str) -> String {
    let options = (choices.options)();
    let found = options.into_iter().find(|(option, _)| option == name);
    found.map(|(_, said)| said).unwrap_or_default()
}

fn figures_of(draft: &Draft, group: Group) -> impl IntoView + use<> {
    let side = draft.read().0.cable.side;
    let line = |field: &Field| {
        let text = draft.text(field.path);
        let said = match field.kind {
            Kind::Choice(choices) => chosen(choices, &text),
            _ => text,
        };
        (!said.is_empty()).then(|| {
            view! {
                <div>
                    <dt>{field.label}</dt>
                    <dd>{said} " " <small class="unit">{field.unit}</small></dd>
                </div>
            }
        })
    };
    let lines = fields::of(group, side).map(line).collect_view();
    view! {
        <h3>{words::group(group)}</h3>
        <dl class="plan-facts">{lines}</dl>
    }
}
