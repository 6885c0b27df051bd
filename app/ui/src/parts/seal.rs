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

/// The seal: a length of cable, whole when everything held and with its middle link parted when anything did not.
#[component]
pub fn Seal(
    /// What the seal says.
    #[prop(into)]
    seal: Signal<Sealed>,
) -> impl IntoView {
    let is_sound = move || seal.read().broken.is_empty();
    let whole = |y: &'static str, stud: &'static str| {
        view! {
            <rect x="-13" y=y width="26" height="34" rx="13" class="seal-link" />
            <path d=stud class="seal-link" />
        }
    };
    let middle = move || {
        if is_sound() {
            whole("-17", "M-13 0H13").into_any()
        } else {
            view! {
                <path d="M-13-5V-4A13 13 0 0 1 13-4V-5" class="seal-link" />
                <path d="M-13 9V10A13 13 0 0 0 13 10V9" class="seal-link" />
            }
            .into_any()
        }
    };
    view! {
        <section class=move || if is_sound() { "seal is-sound" } else { "seal is-broken" }>
            <svg class="seal-drawing" viewBox="-32 -74 64 148" aria-hidden="true" focusable="false">
                {whole("-70", "M-13-53H13")}
                {middle}
                {whole("36", "M-13 53H13")}
                <path d="M0-46V-7M0 7V46" class="seal-edge" />
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
