//! The procedures aboard: the library's, and the ship's copies of them.

use crate::parts::{StatusWord, Tone};
use crate::words::ship as words;
use journal::address;
use journal::catalogue::{self, ProcedureCard};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

fn row(card: ProcedureCard) -> impl IntoView {
    let (tone, said) = match &card.published {
        Some(published) => (Tone::Calm, words::in_force(&published.by, published.at_ms)),
        None => (Tone::Done, words::LIBRARY.to_owned()),
    };
    view! {
        <tr>
            <th scope="row">
                <A href=format!("/procedures/{}", card.slug)>{card.title}</A>
                <span class="quiet">{card.purpose}</span>
            </th>
            <td>{card.edition}</td>
            <td class="is-number">{card.hash.to_string()[..12].to_owned()}</td>
            <td>
                <StatusWord tone word=said />
            </td>
        </tr>
    }
}

fn body(cards: Vec<ProcedureCard>) -> impl IntoView {
    view! {
        <div class="office-title">
            <h1>{words::PROCEDURES}</h1>
            <p class="quiet">{words::PROCEDURES_BODY}</p>
        </div>
        <div class="table-frame">
            <table class="table">
                <thead>
                    <tr>
                        <th scope="col">{words::PROCEDURE}</th>
                        <th scope="col">{words::EDITION}</th>
                        <th scope="col">{words::IDENTITY}</th>
                        <th scope="col">{words::IN_FORCE}</th>
                    </tr>
                </thead>
                <tbody>{cards.into_iter().map(row).collect_view()}</tbody>
            </table>
        </div>
    }
}

/// The list of procedures.
#[component]
pub fn ProceduresPage() -> impl IntoView {
    view! {
        <Title text=words::PROCEDURES />
        {super::shown(
            || address::PROCEDURES.at([]),
            |ledger| Some(catalogue::procedures(ledger)),
            body,
        )}
    }
}
