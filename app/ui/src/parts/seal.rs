//! The seal at the foot of a record: what was verified, and when, in words.

use leptos::prelude::*;

use crate::words::parts as words;

/// What the seal says.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Sealed {
    /// What was checked and held, a sentence each.
    pub held: Vec<String>,
    /// What did not hold, a sentence each, naming the record.
    pub broken: Vec<String>,
    /// When it was checked, with the zone, and by what.
    pub checked: String,
}

/// The seal: a ring of links, closed when everything held and parted when anything did not.
#[component]
pub fn Seal(
    /// What the seal says.
    #[prop(into)]
    seal: Signal<Sealed>,
) -> impl IntoView {
    let is_sound = move || seal.read().broken.is_empty();
    let ring = move || {
        let parted = !is_sound();
        (0..12)
            .map(|at| {
                let place = format!("rotate({}) translate(0 -44)", at * 30);
                let parted_here = parted && at == 1;
                if at % 2 == 0 {
                    view! { <rect x="-14" y="-6.5" width="28" height="13" rx="6.5" transform=place class="seal-link" /> }.into_any()
                } else if parted_here {
                    view! { <path d="M-13 0H-5M5 0H13" transform=place class="seal-edge" /> }.into_any()
                } else {
                    view! { <path d="M-13 0H13" transform=place class="seal-edge" /> }.into_any()
                }
            })
            .collect_view()
    };
    view! {
        <section class=move || if is_sound() { "seal is-sound" } else { "seal is-broken" }>
            <svg class="seal-drawing" viewBox="-56 -56 112 112" aria-hidden="true" focusable="false">
                {ring}
                {move || {
                    if is_sound() {
                        view! { <path d="M-16 1-5 13 17-12" class="seal-word" /> }.into_any()
                    } else {
                        view! { <path d="M0-18V5M0 13v4" class="seal-word" /> }.into_any()
                    }
                }}
            </svg>
            <div class="seal-text">
                <h2 class="seal-head">
                    {move || if is_sound() { words::SEAL_SOUND.text() } else { words::SEAL_BROKEN.text() }}
                </h2>
                <ul class="seal-broken">
                    {move || seal.get().broken.into_iter().map(|said| view! { <li>{said}</li> }).collect_view()}
                </ul>
                <ul class="seal-held">
                    {move || seal.get().held.into_iter().map(|said| view! { <li>{said}</li> }).collect_view()}
                </ul>
                <p class="seal-checked">{move || seal.get().checked}</p>
            </div>
        </section>
    }
    .into_any()
}
