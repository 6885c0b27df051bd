//! The foredeck drawn, place by place, with what the register has there and how it stands: the newcomer's tour and the
//! bosun's round on one picture.

use super::gear::standing;
use crate::parts::{Caution, Foredeck, StatusWord, Tone};
use crate::port::device;
use crate::words::forward as words;
use journal::address;
use journal::gear::{GearPage as Page, GearRow, gear_page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use procedure::library;
use procedure::places::{PLACES, Place};

const DAY_MS: i64 = 86_400_000;

/// Says whether an item wants somebody to look at it.
fn is_wrong(row: &GearRow) -> bool {
    standing(row).0 != Tone::Done || row.defects > 0
}

fn at(place: &Place, rows: &[GearRow]) -> Vec<GearRow> {
    let here = rows
        .iter()
        .filter(|row| place.kinds.contains(&row.card.kind.as_str()));
    here.cloned().collect()
}

fn item(row: &GearRow) -> impl IntoView + use<> {
    let (tone, word) = standing(row);
    let name = row.card.name.clone();
    let defects = (row.defects > 0).then(
        || view! { <span class="is-wait">{crate::words::gear::open_defects(row.defects)}</span> },
    );
    view! {
        <li data-item=row.code.clone()>
            <A href=format!("/gear/{}", row.code)>
                <span data-text="name">{name}</span>
            </A>
            " "
            <code>{row.code.clone()}</code>
            " "
            <StatusWord tone word />
            " "
            {defects}
        </li>
    }
}

fn part(place: &'static Place, rows: &[GearRow]) -> impl IntoView + use<> {
    let here = at(place, rows);
    let none = here.is_empty();
    let title = library::title(place.slug).unwrap_or(place.slug);
    view! {
        <section class="foredeck-part" id=format!("place-{}", place.number) data-place=place.number.to_string()>
            <h2>
                {place.number.to_string()} ". " <span data-text="procedure">{place.name}</span>
            </h2>
            {none.then(|| view! { <p class="quiet">{words::NOTHING_HERE}</p> })}
            <ul class="foredeck-items">{here.iter().map(item).collect_view()}</ul>
            <p>
                <A href=format!("/procedures/{}", place.slug)>
                    <span data-text="procedure">{title}</span>
                </A>
            </p>
        </section>
    }
}

fn body(page: &Page) -> impl IntoView + use<> {
    let wrong = PLACES
        .iter()
        .filter(|place| at(place, &page.rows).iter().any(is_wrong));
    let wrong: Vec<u32> = wrong.map(|place| place.number).collect();
    let parts = PLACES
        .iter()
        .map(|place| part(place, &page.rows))
        .collect_view();
    view! {
        <div class="office-title">
            <h1>{words::FOREDECK} " " <span data-text="name">{page.ship.clone()}</span></h1>
            <p class="quiet">{words::FOREDECK_BODY}</p>
        </div>
        <Caution text=words::FOREDECK_CAUTION.to_string() />
        <div class="foredeck-page">
            <Foredeck wrong leads=true />
            <div>{parts}</div>
        </div>
        <p class="not-printed">
            <A href="/procedures/foredeck-induction">{words::INDUCTION}</A>
        </p>
    }
}

/// The page.
#[component]
pub fn ForedeckPage() -> impl IntoView {
    let device = device();
    let today = Memo::new(move |_| device.system.now_ms.get().div_euclid(DAY_MS) * DAY_MS);
    view! {
        <Title text=words::FOREDECK />
        {super::shown(
            || address::GEAR.at([]),
            move |ledger| Some(gear_page(ledger, today.get())),
            |page: Page| body(&page),
        )}
    }
}
