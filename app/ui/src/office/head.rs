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
    view! {
        <header class="office-head">
            <A href="/" attr:class="office-home">
                {words::NAME}
            </A>
            <nav class="office-ways" aria-label=words::OFFICE>
                <A href="/office" exact=true>
                    {words::VESSELS}
                </A>
                <A href="/procedures">{words::PROCEDURES}</A>
                <A href="/rounds">{words::ROUNDS}</A>
                <A href="/defects">{words::DEFECTS}</A>
                <A href="/crew">{words::CREW}</A>
                <A href="/settings">{words::SETTINGS}</A>
                <A href="/bridge">{words::BRIDGE}</A>
                <A href="/bow">{words::BOW}</A>
            </nav>
            <PersonMark />
            <LightSwitch chosen=device.system.light on_choose=move |light| device.dispatch(SystemCommand::Light(light)) />
        </header>
    }
}
