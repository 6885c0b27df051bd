//! The labels: a sheet to print and cut, a code with its picture for each item.

use super::super::shown;
use super::{device, today};
use crate::parts::Qr;
use crate::words::gear as words;
use journal::address;
use journal::gear::{GearPage as Page, GearRow, gear_page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

fn label(row: GearRow) -> impl IntoView {
    view! {
        <li class="gear-label">
            <Qr text=row.code.clone() label=row.code.clone() />
            <p>
                <code class="gear-label-code">{row.code}</code>
                <span data-text="name">{row.card.name}</span>
            </p>
        </li>
    }
}

fn body(page: Page) -> impl IntoView {
    view! {
        <div class="office-title">
            <h1>{words::LABELS}</h1>
            <p class="quiet">{words::LABELS_BODY}</p>
            <A href="/gear">{words::BACK_TO_GEAR}</A>
        </div>
        <ul class="gear-labels">{page.rows.into_iter().map(label).collect_view()}</ul>
    }
}

/// The page of labels.
#[component]
pub fn LabelsPage() -> impl IntoView {
    let today = today(device());
    view! {
        <Title text=words::LABELS />
        {shown(
            || address::GEAR.at([]),
            move |ledger| Some(gear_page(ledger, today.get())),
            body,
        )}
    }
}
