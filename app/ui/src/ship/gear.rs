//! The register of the ship's gear: a list that is searched and printed, a page for each item, the labels.

mod form;
mod item;
mod kinds;
mod labels;
mod table;
mod wear;

use super::shown;
use crate::parts::{Empty, StatusWord, Tone};
use crate::port::{Device, LinkCommand, device};
use crate::words::gear as words;
use form::PutOn;
pub use item::ItemPage;
use journal::access::{Permission, has_permission};
use journal::address;
use journal::gear::{GearPage as Page, GearRow, gear_page};
pub use kinds::KindsPage;
pub use labels::LabelsPage;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use procedure::gear::{DUE_SOON_DAYS, ItemSide, Room, Service};
use table::Table;

const DAY_MS: i64 = 86_400_000;

/// Returns the beginning of today, ms UTC: a page that changed each second could not be typed in.
fn today(device: Device) -> Memo<i64> {
    Memo::new(move |_| device.system.now_ms.get().div_euclid(DAY_MS) * DAY_MS)
}

/// Says whether whoever has this device keeps the register.
fn keeps(device: Device) -> bool {
    device
        .me()
        .is_some_and(|me| has_permission(me.roles, Permission::KeepGear))
}

/// How an item stands, in a word, and how much that asks of the reader.
pub(super) fn standing(row: &GearRow) -> (Tone, String) {
    match &row.service {
        Service::In if row.not_usable.is_some() => (Tone::Alarm, words::NOT_USABLE.to_string()),
        Service::In => (Tone::Done, words::IN_SERVICE.to_string()),
        Service::Out(_) => (Tone::Alarm, words::OUT_OF_SERVICE.to_string()),
        other => (Tone::Wait, words::service(other).to_string()),
    }
}

/// What stands in the way of an item's use, in its own words.
fn because(row: &GearRow) -> Option<String> {
    match &row.service {
        Service::Restricted(said) | Service::Out(said) if !said.is_empty() => Some(said.clone()),
        _ => row.not_usable.clone(),
    }
}

/// Says the end that comes first.
fn first_end(row: &GearRow) -> Option<(Tone, String)> {
    let (date, day, days) = row.first_end?;
    let (what, day) = (words::date(date).to_string(), day.to_string());
    Some(match days {
        ..0 => (Tone::Alarm, words::ends(&what, &day)),
        0..=DUE_SOON_DAYS => (Tone::Wait, words::ends_soon(&what, &day, &days.to_string())),
        _ => (Tone::Calm, words::ends(&what, &day)),
    })
}

fn side_of(side: Option<ItemSide>) -> String {
    side.map(|side| words::side(side).to_string())
        .unwrap_or_default()
}

fn row(row: &GearRow) -> impl IntoView + use<> {
    let (tone, said) = standing(row);
    let because = because(row);
    let end = first_end(row);
    let end = end.map(|(tone, said)| view! { <span class=tone.class()>{said}</span> });
    let defects = (row.defects > 0)
        .then(|| view! { <span class="is-wait">{words::open_defects(row.defects)}</span> });
    let clashes = row.clashes.iter().map(|name| words::clash(name));
    let clashes: Vec<String> = clashes.collect();
    let name = row.card.name.clone();
    view! {
        <li class="gear-row" data-item=row.code.clone()>
            <A href=format!("/gear/{}", row.code) attr:class="gear-name">
                <span data-text="name">{name}</span>
            </A>
            <code class="gear-code">{row.code.clone()}</code>
            <span class="gear-kind" data-text="kind">{row.kind_name.clone()}</span>
            <span class="gear-side">{side_of(row.card.side)}</span>
            <StatusWord tone word=said />
            <span class="gear-more">
                {end}
                {defects}
                {because.map(|why| view! { <span data-text="why">{why}</span> })}
                {clashes.into_iter().map(|said| view! { <span class="is-alarm">{said}</span> }).collect_view()}
            </span>
        </li>
    }
}

/// Says whether an item has all the words that are looked for.
fn is_found(row: &GearRow, wanted: &str) -> bool {
    let card = &row.card;
    let said = [
        &row.code,
        &card.name,
        &row.kind_name,
        &card.serial,
        &card.certificate,
        &side_of(card.side),
        &words::room(card.room).to_string(),
        &standing(row).1,
    ]
    .map(|text| text.to_lowercase())
    .join(" ");
    wanted
        .to_lowercase()
        .split_whitespace()
        .all(|word| said.contains(word))
}

#[component]
fn List(rows: Vec<GearRow>) -> impl IntoView {
    let wanted = RwSignal::new(String::new());
    let place = RwSignal::new(String::new());
    let all = rows.len();
    let rows = StoredValue::new(rows);
    let found = Memo::new(move |_| {
        let (wanted, place) = (wanted.get(), place.get());
        rows.with_value(|rows| {
            let is_there = |row: &GearRow| place.is_empty() || row.card.room.name() == place;
            let found = rows
                .iter()
                .filter(|row| is_there(row) && is_found(row, &wanted));
            found.cloned().collect::<Vec<GearRow>>()
        })
    });
    let part = move |room: Room| {
        found.with(|rows| {
            let here: Vec<_> = rows
                .iter()
                .filter(|each| each.card.room == room)
                .map(row)
                .collect();
            (!here.is_empty()).then(|| {
                view! {
                    <section class="gear-part">
                        <h2>{words::room(room)}</h2>
                        <ul class="gear-list">{here}</ul>
                    </section>
                }
            })
        })
    };
    let places =
        Room::ALL.map(|room| view! { <option value=room.name()>{words::room(room)}</option> });
    view! {
        <form class="filters gear-filters" on:submit=|event| event.prevent_default()>
            <label class="field">
                <span>{words::FIND}</span>
                <input
                    type="search"
                    id="gear-find"
                    autocomplete="off"
                    prop:value=wanted
                    on:input:target=move |event| wanted.set(event.target().value())
                />
            </label>
            <label class="field">
                <span>{words::PLACE}</span>
                <select
                    id="gear-place"
                    prop:value=place
                    on:change:target=move |event| place.set(event.target().value())
                >
                    <option value="">{words::EVERY_PLACE}</option>
                    {places.into_iter().collect_view()}
                </select>
            </label>
            <p class="quiet gear-count" role="status">
                {move || words::shown_of(&found.with(Vec::len).to_string(), &all.to_string())}
            </p>
        </form>
        {move || {
            found.with(Vec::is_empty).then(|| view! { <Empty head=words::NOTHING_FOUND body="" /> })
        }}
        {move || Room::ALL.map(part).into_iter().collect_view()}
    }
}

fn body(page: Page) -> impl IntoView {
    let device = device();
    let kinds = StoredValue::new(page.kinds);
    let none = page.rows.is_empty();
    view! {
        <div class="office-title">
            <h1>{words::GEAR} <span class="gear-ship" data-text="name">{page.ship}</span></h1>
            <p class="quiet">{words::GEAR_BODY}</p>
            <A href="/foredeck">{crate::words::forward::FOREDECK}</A>
        </div>
        {if none {
            view! { <Empty head=words::NO_GEAR body=words::NO_GEAR_BODY /> }.into_any()
        } else {
            view! { <List rows=page.rows /> }.into_any()
        }}
        <section class="procedure-part gear-keep">
            <p class="quiet">{words::OFFICERS_ONLY}</p>
            {move || keeps(device).then(|| view! { <PutOn kinds /> })}
            <Table />
            <A href="/gear/kinds" attr:class="button">{words::KINDS}</A>
            {(!none).then(|| view! { <A href="/gear/labels" attr:class="button">{words::LABELS}</A> })}
        </section>
    }
}

/// The page of the ship's gear.
#[component]
pub fn GearPage() -> impl IntoView {
    let device = device();
    let today = today(device);
    Effect::new(move |_| device.dispatch(LinkCommand::Sync));
    view! {
        <Title text=words::GEAR />
        {shown(
            || address::GEAR.at([]),
            move |ledger| Some(gear_page(ledger, today.get())),
            body,
        )}
    }
}
