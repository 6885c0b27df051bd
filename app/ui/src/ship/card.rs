//! The printable card of a procedure, for the day the phone dies.

use crate::words::ship as words;
use journal::address;
use journal::catalogue::{self, ProcedurePage};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::hooks::use_params_map;

fn body(page: &ProcedurePage) -> impl IntoView + use<> {
    let card = procedure::card::html(&page.procedure, &page.settings);
    view! {
        <Title text=page.card.title.clone() />
        <p class="quiet not-printed">{words::PRINT}</p>
        <div class="card-frame" inner_html=card></div>
    }
}

/// The card of a procedure.
#[component]
pub fn CardPage() -> impl IntoView {
    let params = use_params_map();
    let slug = move || params.with(|params| params.get("slug").unwrap_or_default());
    super::shown(
        move || address::PROCEDURE.at([&slug()]),
        move |ledger| catalogue::procedure_page(ledger, &slug()),
        |page: ProcedurePage| body(&page),
    )
}
