//! What the program defers to, said on each page on which somebody can be hurt.

use leptos::prelude::*;

use crate::words;

/// That the ship's safety management system, the master's orders, local rules and licensed practice come first.
#[component]
pub fn Defer() -> impl IntoView {
    view! { <p class="defer" role="note">{words::DEFER}</p> }
}
