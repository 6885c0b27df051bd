//! A caution: what can hurt someone here, and what to do about it.

use leptos::prelude::*;

use super::status_word::{Tone, ToneShape};
use crate::words::parts as words;

/// One caution, standing where the danger is; its shape and its word are always the same.
#[component]
pub fn Caution(
    /// The caution in a sentence or two.
    #[prop(into)]
    text: Signal<String>,
) -> impl IntoView {
    view! {
        <p class="caution" role="note">
            <ToneShape tone=Tone::Wait />
            <span>
                <strong class="caution-word">{words::CAUTION}</strong>
                " "
                {move || text.get()}
            </span>
        </p>
    }
    .into_any()
}
