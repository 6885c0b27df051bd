//! The first page: where am I, and where do I go.

use crate::parts::{Defer, LightSwitch};
use crate::port::{DeviceState, SystemCommand, device};
use crate::words;
use crate::words::roll as roll_words;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

/// The first page.
#[component]
pub fn StartPage() -> impl IntoView {
    let device = device();
    let ship = move || {
        let name = device.records.ledger.with(|ledger| {
            ledger
                .as_ref()
                .and_then(|ledger| ledger.particulars())
                .map(|body| body.name.clone())
        });
        match (name, device.identity.state.get()) {
            (Some(name), DeviceState::Enrolled(me)) => format!("{name} · {}", me.name),
            (Some(name), _) => name,
            _ => String::new(),
        }
    };
    let place = |href: &'static str, name: &'static str, purpose: &'static str| {
        view! {
            <A href=href attr:class="start-place">
                <span class="start-where">{name}</span>
                <span class="start-for">{purpose}</span>
            </A>
        }
    };
    view! {
        <Title text=words::NAME />
        <div class="start">
            <header class="start-head">
                <h1 class="start-name">{words::NAME}</h1>
                <p class="start-ship">{ship}</p>
                <LightSwitch
                    chosen=device.system.light
                    on_choose=move |light| device.dispatch(SystemCommand::Light(light))
                />
            </header>
            <nav class="start-places">
                {move || {
                    (!device.is_ashore())
                        .then(|| {
                            view! {
                                {place("/bow", words::BOW.text(), words::BOW_FOR.text())}
                                {place("/bridge", words::BRIDGE.text(), words::BRIDGE_FOR.text())}
                                {place("/plan", words::PLAN.text(), words::plan::PLAN_FOR.text())}
                            }
                        })
                }}
                {place("/office", words::OFFICE.text(), words::OFFICE_FOR.text())}
            </nav>
            <p class="start-ways">
                {move || {
                    (!device.is_ashore())
                        .then(|| view! { <A href="/setup">{words::setup::SETUP}</A> " · " })
                }}
                <A href="/roll">{roll_words::ROLL}</A>
                " · "
                <A href="/proof">{roll_words::PROOF}</A>
                " · "
                // A text of the server's, and no page of the program.
                <a href="/notices.txt" rel="external">{words::NOTICES.text()}</a>
            </p>
            <Defer />
        </div>
    }
}
