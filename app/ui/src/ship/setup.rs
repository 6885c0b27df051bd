//! The first hour aboard: what is still to be said, in order, each with the page on which it is said.

use super::shown;
use crate::parts::{Caution, Defer, StatusWord, Tone};
use crate::port::device;
use crate::words::setup as words;
use journal::address;
use journal::setup::{SetupPage as Page, SetupPart, SetupRow, setup_page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

const DAY_MS: i64 = 86_400_000;

/// Returns the pages on which a part is said.
const fn ways(part: SetupPart) -> &'static [(&'static str, crate::words::Word)] {
    match part {
        SetupPart::Ship => &[("/crew", words::WAY_SHIP)],
        SetupPart::People => &[("/crew", words::WAY_PEOPLE), ("/drills", words::WAY_DRILLS)],
        SetupPart::Gear => &[
            ("/gear", words::WAY_GEAR),
            ("/foredeck", words::WAY_FOREDECK),
        ],
        SetupPart::Cables => &[
            ("/settings", words::WAY_CABLES),
            ("/marks", words::WAY_MARKS),
        ],
        SetupPart::Limits => &[("/settings", words::WAY_LIMITS)],
        SetupPart::Ready => &[("/bow", words::WAY_READY)],
    }
}

fn row(row: &SetupRow) -> impl IntoView + use<> {
    let is_done = row.lacks.is_empty();
    let (tone, word) = if is_done {
        (Tone::Done, words::DONE)
    } else {
        (Tone::Wait, words::OPEN)
    };
    let lacks = row
        .lacks
        .iter()
        .map(|lack| view! { <li>{words::lack(lack)}</li> });
    let lacks = lacks.collect_view();
    let later: Vec<String> = row.later.iter().map(words::lack).collect();
    let later = (!later.is_empty()).then(|| {
        let lines = later.into_iter().map(|said| view! { <li>{said}</li> });
        view! {
            <details class="order-more">
                <summary>{words::LATER}</summary>
                <ul>{lines.collect_view()}</ul>
            </details>
        }
    });
    let ways = ways(row.part).iter().map(|(to, name)| {
        view! { <A href=*to attr:class="button">{*name}</A> }
    });
    let body = words::body(row.part);
    view! {
        <li class="procedure-part setup-part" data-part=format!("{:?}", row.part).to_lowercase() data-done=is_done.to_string()>
            <h2>{words::part(row.part)} " " <StatusWord tone word=word.to_string() /></h2>
            <p class="quiet">{body}</p>
            <ul class="setup-lacks">{lacks}</ul>
            {later}
            <p class="setup-ways">{ways.collect_view()}</p>
        </li>
    }
}

fn body(page: Page) -> impl IntoView {
    let done = words::done_of(&page.done().to_string(), &page.rows.len().to_string());
    let rows = page.rows.iter().map(row).collect_view();
    view! {
        <div class="office-title">
            <h1>{words::SETUP} " " <span data-text="name">{page.ship}</span></h1>
            <p class="quiet">{words::SETUP_BODY}</p>
            <p role="status" class="setup-done">{done}</p>
            <Caution text=crate::words::ship::SETTINGS_CAUTION />
            <Defer />
        </div>
        <ol class="setup-parts">{rows}</ol>
        <section class="procedure-part">
            <h2>{words::SISTER}</h2>
            <p>{words::SISTER_BODY}</p>
            <ol>
                <li>
                    {words::SISTER_LIMITS} " " <A href="/settings">{crate::words::ship::SETTINGS}</A>
                </li>
                <li>{words::SISTER_GEAR} " " <A href="/gear">{crate::words::gear::GEAR}</A></li>
            </ol>
        </section>
    }
}

/// The page.
#[component]
pub fn SetupPage() -> impl IntoView {
    let device = device();
    let today = Memo::new(move |_| device.system.now_ms.get().div_euclid(DAY_MS) * DAY_MS);
    view! {
        <Title text=words::SETUP />
        {shown(
            || address::SETUP.at([]),
            move |ledger| Some(setup_page(ledger, today.get())),
            body,
        )}
    }
}
