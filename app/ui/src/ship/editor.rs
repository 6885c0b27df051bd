//! The ship's copy as the master changes it: mistakes are told as they are typed, by line and step.

use super::procedure::differences;
use super::trial::Rehearse;
use crate::parts::{Caution, HoldButton};
use crate::port::{Device, RecordCommand, device};
use crate::words::ship as words;
use leptos::prelude::*;
use procedure::{Procedure, Role};

/// Says what comes of another short name: not this procedure is changed, but another one made or replaced.
fn renamed(device: Device, old: &Procedure, new: &Procedure) -> Option<String> {
    if new.slug() == old.slug() {
        return None;
    }
    let taken = device.records.ledger.with_untracked(|ledger| {
        let known = ledger.as_ref()?.current(new.slug())?;
        Some(known.title().to_owned())
    });
    Some(match taken {
        Some(title) => words::renamed_over(&title, old.title()),
        None => words::renamed(old.title()),
    })
}

/// The file of a procedure, to be changed and published by the master.
#[component]
pub fn Editor(
    /// The file's name.
    file: String,
    /// Its text.
    text: String,
    /// The procedure in force.
    in_force: Procedure,
) -> impl IntoView {
    let device = device();
    let typed = RwSignal::new(text);
    let file = StoredValue::new(file);
    let in_force = StoredValue::new(in_force);
    let own: Vec<String> = device.records.ledger.with_untracked(|ledger| {
        let all = ledger.as_ref().map(journal::Ledger::all_current);
        let all = all.into_iter().flatten();
        all.map(|procedure| procedure.slug().to_owned()).collect()
    });
    let read = Memo::new(move |_| {
        let own: Vec<&str> = own.iter().map(String::as_str).collect();
        typed.with(|text| file.with_value(|file| procedure::parse_aboard(file, text, &own)))
    });
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let is_new = move || {
        read.with(|read| {
            read.as_ref()
                .is_ok_and(|new| in_force.with_value(|old| new.hash() != old.hash()))
        })
    };
    let said = move || {
        read.with(|read| match read {
            Err(mistakes) => {
                let lines = mistakes
                    .iter()
                    .map(|mistake| view! { <li>{mistake.to_string()}</li> })
                    .collect_view();
                view! { <ul class="mistakes">{lines}</ul> }.into_any()
            }
            Ok(new) => {
                let changed = in_force.with_value(|old| procedure::diff(old, new));
                if changed.is_empty() {
                    view! { <p>{words::SOUND} " " {words::SAME}</p> }.into_any()
                } else {
                    let renamed = in_force.with_value(|old| renamed(device, old, new));
                    view! {
                        <p>{words::SOUND}</p>
                        {renamed.map(|text| view! { <Caution text /> })}
                        {differences(&changed)}
                    }
                    .into_any()
                }
            }
        })
    };
    let keys = move || {
        if is_master() {
            view! {
                <Caution text=words::OWN_CAUTION />
                <HoldButton
                    label=words::PUBLISH
                    disabled=Signal::derive(move || device.records.saving.get() || !is_new())
                    on_held=move |()| {
                        device
                            .dispatch(RecordCommand::Publish {
                                file: file.get_value(),
                                text: typed.get_untracked(),
                            });
                    }
                />
            }
            .into_any()
        } else {
            view! { <p class="quiet">{words::ONLY_MASTER}</p> }.into_any()
        }
    };
    view! {
        <section class="procedure-part procedure-edit">
            <details class="order-more">
                <summary>{words::EDIT}</summary>
                <p>{words::EDIT_BODY}</p>
                <label class="field">
                    <span>{words::TEXT}</span>
                    <textarea
                        class="procedure-text"
                        rows="24"
                        spellcheck="false"
                        prop:value=typed
                        on:input:target=move |event| typed.set(event.target().value())
                    ></textarea>
                </label>
                <div class="procedure-read" role="status">
                    {said}
                </div>
                <Rehearse procedure=Signal::derive(move || read.with(|read| read.as_ref().ok().cloned())) />
                {keys}
            </details>
        </section>
    }
}
