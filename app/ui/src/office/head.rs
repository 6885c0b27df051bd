//! The head of every page of the office.

use crate::parts::LightSwitch;
use crate::port::{SystemCommand, device};
use crate::unlock_sheet::PersonMark;
use crate::words;
use leptos::prelude::*;
use leptos_router::components::A;

/// The head of a page of the office.
#[component]
pub fn OfficeHead() -> impl IntoView {
    let device = device();
    // An office works no ship of its own: what is about one ship's work leads nowhere there.
    let of_a_ship = move || {
        if device.is_ashore() {
            return view! { <A href="/crew">{words::PEOPLE}</A> }.into_any();
        }
        view! {
            <A href="/procedures">{words::PROCEDURES}</A>
            <A href="/rounds">{words::ROUNDS}</A>
            <A href="/gear">{words::gear::GEAR}</A>
            <A href="/defects">{words::DEFECTS}</A>
            <A href="/crew">{words::CREW}</A>
            <A href="/settings">{words::SETTINGS}</A>
            <A href="/bridge">{words::BRIDGE}</A>
            <A href="/bow">{words::BOW}</A>
        }
        .into_any()
    };
    view! {
        <header class="office-head">
            <A href="/" attr:class="office-home">
                {words::NAME}
            </A>
            <nav class="office-ways" aria-label=words::OFFICE>
                <A href="/office" exact=true>
                    {words::VESSELS}
                </A>
                {of_a_ship}
            </nav>
            <PersonMark />
            <LightSwitch chosen=device.system.light on_choose=move |light| device.dispatch(SystemCommand::Light(light)) />
        </header>
    }
}
