//! The roll of records: its head, who checked it, and what is wrong with it.

use super::trouble::{ReadIt, trouble_view};
use crate::office::head::OfficeHead;
use crate::parts::{Empty, Qr, StatusWord, Tone};
use crate::port::{device, source};
use crate::words as common;
use crate::words::roll as words;
use journal::address::{self, Json, Nothing, Url};
use journal::log::{Checked, Head, LogCard, Trouble, TroubleCard};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use leptos_router::hooks::use_params_map;

/// How often the page looks at the clock, ms.
const LOOK_MS: i64 = 5_000;

/// A head: how many records, how old, and its root in groups to be read aloud.
fn head_view(head: &Head, origin: &str, now_ms: i64) -> impl IntoView + use<> {
    let signed = head
        .signed_ms
        .map_or_else(|| "—".to_owned(), |ms| words::signed(ms, now_ms));
    let groups = head.groups();
    let groups = groups.into_iter();
    let origin = origin.to_owned();
    view! {
        <dl class="facts roll-facts">
            <dt>{words::RECORDS}</dt>
            <dd class="roll-size">{head.size.to_string()}</dd>
            <dt>{words::SIGNED}</dt>
            <dd>{signed}</dd>
            <dt>{words::SIGNED_BY}</dt>
            <dd class="hash">{origin}</dd>
            <dt>{words::ROOT}</dt>
            <dd>
                <ol class="roll-groups">
                    {groups.map(|group| view! { <li>{group}</li> }).collect_view()}
                </ol>
            </dd>
        </dl>
    }
}

fn qr_view(note: &str) -> impl IntoView + use<> {
    let note = note.to_owned();
    view! {
        <div class="roll-qr">
            <Qr text=note label=words::QR_LABEL />
            <p class="quiet">{words::QR_BODY}</p>
        </div>
    }
}

fn stands(trouble: Trouble) -> impl IntoView {
    view! {
        <section class="roll-stands">
            {trouble_view(&trouble)} <ReadIt trouble />
        </section>
    }
}

fn was_read(card: &TroubleCard) -> Option<impl IntoView + use<>> {
    let read = card.read.clone()?;
    let said = words::read_by(&read.by, read.at_ms, &read.reason);
    let view = trouble_view(&card.trouble);
    Some(view! {
        <li>
            <details>
                <summary>{words::trouble_head(&card.trouble)} " " {said}</summary>
                {view}
            </details>
        </li>
    })
}

/// What this device found by itself.
fn own_view(log: &Checked, origin: &str, now_ms: i64) -> impl IntoView + use<> {
    let head = log.head.map(|head| head_view(&head, origin, now_ms));
    let (tone, said) = match (log.at_ms, &log.trouble) {
        (_, Some(trouble)) => (Tone::Alarm, words::trouble_head(trouble).to_owned()),
        (Some(ms), None) => (Tone::Done, words::checked(ms, now_ms)),
        (None, None) => (Tone::Wait, words::NOT_CHECKED.to_owned()),
    };
    view! {
        <section class="roll-part">
            <h2>{words::THIS_DEVICE}</h2>
            <p>
                <StatusWord tone word=said />
            </p>
            {head}
        </section>
    }
}

fn card_view(card: &LogCard, own: Option<&Trouble>) -> impl IntoView + use<> {
    let standing: Vec<Trouble> = card
        .standing()
        .filter(|trouble| own.is_none_or(|own| !own.is_same(trouble)))
        .cloned()
        .collect();
    let read = card.troubles.iter().filter_map(was_read).collect_view();
    let has_read = card.troubles.iter().any(|card| card.read.is_some());
    let ship = card.ship.map(|(head, _)| {
        let origin = record::log_origin("ship", card.vessel);
        view! {
            <section class="roll-part">
                <h2>{words::SHIPS_OWN}</h2>
                {head_view(&head, &origin, card.now_ms)}
            </section>
        }
    });
    let damage = (!card.damage.is_empty()).then(|| {
        let lines = card.damage.iter().cloned();
        view! {
            <div class="banner roll-trouble is-alarm" role="alert">
                <div class="banner-text">
                    <p>
                        <strong>{words::DAMAGE}</strong>
                        ". "
                        {words::DAMAGE_BODY}
                    </p>
                    <ul>{lines.map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
                </div>
            </div>
        }
    });
    let restores = (!card.restores.is_empty()).then(|| {
        let lines = card.restores.iter().map(words::restored);
        view! {
            <section class="roll-part">
                <h2>{words::RESTORES}</h2>
                <ul>{lines.map(|line| view! { <li>{line}</li> }).collect_view()}</ul>
            </section>
        }
    });
    view! {
        {damage}
        {standing.into_iter().map(stands).collect_view()}
        <section class="roll-part">
            <h2>{words::SERVER_SHOWS}</h2>
            {head_view(&card.head, &card.origin, card.now_ms)}
            {qr_view(&card.note)}
        </section>
        {ship}
        {restores}
        {has_read
            .then(|| {
                view! {
                    <section class="roll-part">
                        <h2>{words::READ_ALREADY}</h2>
                        <ul>{read}</ul>
                    </section>
                }
            })}
    }
}

/// The page of the ship's own log.
#[component]
pub fn RollPage() -> impl IntoView {
    log_page(|| address::LOG.at([]), true)
}

/// The page of a vessel's log, in the office.
#[component]
pub fn VesselRollPage() -> impl IntoView {
    let params = use_params_map();
    let vessel = move || params.with(|params| params.get("vessel").unwrap_or_default());
    log_page(move || address::VESSEL_LOG.at([&vessel()]), false)
}

fn log_page(
    address: impl Fn() -> Url<Nothing, Json<LogCard>> + Send + Sync + 'static,
    is_ships: bool,
) -> AnyView {
    let device = device();
    let source = source();
    let card = Resource::new(
        move || address().into_string(),
        move |path| {
            let source = source.clone();
            async move { source.read::<LogCard>(path).await }
        },
    );
    let tick = Memo::new(move |_| device.system.now_ms.get().div_euclid(LOOK_MS) * LOOK_MS);
    let knows_ship = Memo::new(move |_| is_ships && device.records.ledger.with(Option::is_some));
    // A record that came in, or a head that was checked, may have changed what stands.
    Effect::new(move |before: Option<()>| {
        device.link.log.track();
        if before.is_some() {
            card.refetch();
        }
    });
    let own_trouble = Memo::new(move |_| device.link.log.with(|log| log.trouble.clone()));
    let own = move || {
        knows_ship.get().then(|| {
            let vessel = device
                .records
                .ledger
                .with_untracked(|ledger| ledger.as_ref().map(journal::Ledger::vessel));
            let origin = vessel.map(|vessel| record::log_origin("ship", vessel));
            let origin = origin.unwrap_or_default();
            device
                .link
                .log
                .with(|log| own_view(log, &origin, tick.get()))
        })
    };
    let standing = move || {
        knows_ship
            .get()
            .then(|| own_trouble.get().map(stands))
            .flatten()
    };
    view! {
        <Title text=words::ROLL />
        <div class="office ship">
            <OfficeHead />
            <main class="office-main">
                <div class="office-title">
                    <h1>{words::ROLL}</h1>
                    <p class="quiet">{words::ROLL_FOR}</p>
                    <p class="quiet">{words::HEAD_BODY}</p>
                    <p>
                        <A href="/proof">{words::PROOF}</A>
                    </p>
                </div>
                {standing}
                {own}
                <Transition fallback=|| {
                    view! { <Empty head=common::LOADING body="" /> }
                }>
                    {move || Suspend::new(async move {
                        match card.await {
                            Ok(card) => {
                                let own = own_trouble.get_untracked();
                                card_view(&card, own.as_ref()).into_any()
                            }
                            Err(why) => {
                                view! { <Empty head=common::BOARD_UNREACHED body=why /> }.into_any()
                            }
                        }
                    })}
                </Transition>
            </main>
        </div>
    }
    .into_any()
}
