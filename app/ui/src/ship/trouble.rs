//! Something wrong with the log, wherever it is shown: in words, with the two heads that show it.

use crate::parts::status_word::ToneShape;
use crate::parts::{HoldButton, Tone};
use crate::port::{Device, RecordCommand, device};
use crate::words::roll as words;
use journal::log::{Found, Head, Trouble};
use leptos::prelude::*;
use leptos_router::components::A;
use procedure::Role;

fn tone(trouble: &Trouble) -> Tone {
    match trouble.found {
        Found::Restored(_) => Tone::Wait,
        Found::Rewritten => Tone::Alarm,
    }
}

fn line(name: &'static str, head: &Head) -> impl IntoView + use<> {
    view! {
        <dt>{name}</dt>
        <dd>{words::head_line(head)}</dd>
    }
}

/// What is wrong, and the two heads.
pub fn trouble_view(trouble: &Trouble) -> AnyView {
    let tone = tone(trouble);
    view! {
        <div class=format!("banner roll-trouble {}", tone.class()) role="alert">
            <ToneShape tone />
            <div class="banner-text">
                <p>
                    <strong>{words::trouble_head(trouble)}</strong>
                    " "
                    {words::trouble_body(trouble)}
                </p>
                <dl class="facts roll-heads">
                    {line(words::REMEMBERED.text(), &trouble.remembered)}
                    {line(words::SHOWN.text(), &trouble.shown)}
                </dl>
                <p class="quiet">{words::found_at(trouble.found_ms)}</p>
            </div>
        </div>
    }
    .into_any()
}

/// Where a master puts on record that they have read it, and why it came about.
#[component]
pub fn ReadIt(trouble: Trouble) -> impl IntoView {
    let device = device();
    let reason = RwSignal::new(String::new());
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let trouble = StoredValue::new(trouble);
    let put = move |()| {
        device.dispatch(RecordCommand::LogRead {
            trouble: Box::new(trouble.get_value()),
            reason: reason.get_untracked().trim().to_owned(),
        });
    };
    move || {
        if !is_master() {
            return view! { <p class="quiet">{words::ONLY_MASTER}</p> }.into_any();
        }
        view! {
            <div class="roll-read">
                <label class="field">
                    <span>{words::WHY}</span>
                    <input
                        type="text"
                        prop:value=reason
                        on:input:target=move |event| reason.set(event.target().value())
                    />
                </label>
                <HoldButton
                    label=words::I_HAVE_READ
                    disabled=Signal::derive(move || {
                        device.records.saving.get() || reason.read().trim().is_empty()
                    })
                    on_held=put
                />
            </div>
        }
        .into_any()
    }
}

/// What this device found wrong with the log, over every page, until a master has read it.
#[component]
pub fn LogBar() -> impl IntoView {
    // The list of routes is made from the program without any device.
    use_context::<Device>().map(|device| {
        let trouble = Memo::new(move |_| device.link.log.with(|log| log.trouble.clone()));
        move || {
            trouble.get().map(|trouble| {
                let class = format!("banner roll-bar {}", tone(&trouble).class());
                view! {
                    <div class=class role="alert">
                        <ToneShape tone=tone(&trouble) />
                        <p class="banner-text">
                            <strong>{words::trouble_head(&trouble)}</strong>
                            " "
                            {words::head_line(&trouble.remembered)}
                            " → "
                            {words::head_line(&trouble.shown)}
                        </p>
                        <A href="/roll" attr:class="button is-quiet">
                            {words::LOOK}
                        </A>
                    </div>
                }
            })
        }
    })
}
