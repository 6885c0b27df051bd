//! The form with which a master puts something in force: what is changed, why it cannot be, and the key to hold.

use crate::parts::HoldButton;
use crate::port::{RecordCommand, device};
use crate::words::ship as words;
use leptos::prelude::*;
use procedure::Settings;

/// A form that stays folded until it is wanted.
#[component]
pub fn InForceForm(
    /// What it does, in the imperative.
    summary: &'static str,
    /// Why what stands in it cannot be put in force; none if it can.
    #[prop(into)]
    why_not: Signal<Option<String>>,
    /// Called when the key was held.
    #[prop(into)]
    on_held: Callback<()>,
    /// The fields.
    children: Children,
) -> impl IntoView {
    let device = device();
    view! {
        <details class="order-more">
            <summary>{summary}</summary>
            <div class="order">
                {children()}
                {move || why_not.get().map(|why| view! { <p class="sheet-blocked">{why}</p> })}
                <HoldButton
                    label=words::PUT_IN_FORCE
                    disabled=Signal::derive(move || {
                        device.records.saving.get() || why_not.get().is_some()
                    })
                    on_held
                />
            </div>
        </details>
    }
}

/// Puts the settings on record with one change.
pub fn change_settings(
    settings: StoredValue<Settings>,
    change: impl FnOnce(&mut Settings),
) -> RecordCommand {
    let mut all = settings.get_value();
    change(&mut all);
    let json = serde_json::to_string(&all).expect("invariant: settings are JSON");
    RecordCommand::Settings { json }
}
