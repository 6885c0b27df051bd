//! What a phone says whose key the ship has withdrawn: on whatever page, and what becomes of what it holds.

use crate::port::Device;
use crate::{time, words};
use leptos::prelude::*;
use leptos_router::components::A;

/// The line over every page of a phone whose key was withdrawn.
#[component]
pub fn WithdrawnBar() -> impl IntoView {
    // The list of routes is made from the program without any device.
    use_context::<Device>().map(|device| {
        move || {
            let gone = device.identity.withdrawn.get()?;
            let waiting = device.link.state.with(|link| link.waiting);
            let when = time::date_clock(gone.from_ms);
            let becomes = words::withdrawn_becomes(waiting, &gone.last_seq.to_string());
            Some(view! {
                <div class="banner withdrawn-bar is-alarm" role="alert">
                    <p class="banner-text">
                        <strong>{words::withdrawn_here(&when, &gone.reason)}</strong>
                        " "
                        {becomes}
                    </p>
                    <A href="/bow/enrol" attr:class="button">
                        {words::ENROL_HERE_ANEW}
                    </A>
                </div>
            })
        }
    })
}
