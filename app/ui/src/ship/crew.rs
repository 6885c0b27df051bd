//! The crew's page: who is aboard, on which devices; the master takes people on, hands out codes, withdraws
//! keys.

mod forms;

use super::FormDone;
use crate::parts::{Qr, StatusWord, Tone};
use crate::platform;
use crate::port::{Device, LinkCommand, Sender, device, sender};
use crate::time;
use crate::words::crew as words;
use forms::{PersonForm, ShipForm, WithdrawForm};
use journal::access::{self, Permission};
use journal::address::{self, Json, Url};
use journal::auth_messages::Code;
use journal::board::Heard;
use journal::crew::{self, CodeQuestion, CrewPage as Page, CrewRow, KeyRow};
use journal::{Person, roles_from_words};
use leptos::prelude::*;
use leptos_meta::Title;
use record::DeviceId;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;

/// Between two looks at how long ago a device was heard, ms.
const TICK_MS: i64 = 10_000;

/// Says whether whoever is enrolled here may change the crew.
fn may_muster(device: Device) -> bool {
    let me = device.me();
    me.is_some_and(|me| access::has_permission(me.roles, Permission::Muster))
}

/// A change on its way to the ship: nothing, being sent, or refused in words.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
enum Sending {
    #[default]
    Idle,
    Sent,
    Refused(String),
}

/// The way to the ship for one form, taken up when the form is drawn: a key that is held answers from a
/// timer, where nothing can be looked up any more.
#[derive(Clone)]
struct Counter {
    device: Device,
    sender: Sender,
    state: RwSignal<Sending>,
    done: Option<FormDone>,
}

impl Counter {
    fn here() -> Self {
        Self {
            device: device(),
            sender: sender(),
            state: RwSignal::new(Sending::default()),
            done: use_context(),
        }
    }

    /// Sends a change to the ship and has the records fetched that come of it.
    fn send<Q: Serialize + 'static, A: DeserializeOwned + 'static>(
        &self,
        address: Url<Json<Q>, Json<A>>,
        change: Q,
        then: impl FnOnce(A) + 'static,
    ) {
        let Self {
            device,
            sender,
            state,
            done,
        } = self.clone();
        state.set(Sending::Sent);
        leptos::task::spawn_local(async move {
            match sender.post(address, &change).await {
                Ok(answer) => {
                    // The form may be gone: the records that come of it draw the page anew.
                    let _ = state.try_set(Sending::Idle);
                    if let Some(done) = done {
                        done.say();
                    }
                    device.dispatch(LinkCommand::Sync);
                    then(answer);
                }
                Err(why) => drop(state.try_set(Sending::Refused(why))),
            }
        });
    }
}

/// What became of a change, in words.
fn told(state: RwSignal<Sending>) -> impl IntoView {
    move || match state.get() {
        Sending::Refused(why) => {
            Some(view! { <p class="field-wrong" role="alert">{why}</p> }.into_any())
        }
        Sending::Sent => Some(view! { <p class="quiet">{words::SENDING}</p> }.into_any()),
        Sending::Idle => None,
    }
}

/// A code to hand over, as digits and as a picture; it is gone from the screen when it has ended.
fn code_shown(code: Code, name: &str) -> AnyView {
    let device = device();
    let digits = code.printed();
    let address = platform::origin().map(|origin| format!("{origin}/bow/enrol#{}", code.code));
    let expires_ms = code.expires_ms;
    let left = move || expires_ms - device.system.now_ms.get();
    view! {
        <div class="code-card">
            <p class="code-digits" aria-label=words::CODE>{digits}</p>
            {address
                .map(|address| {
                    view! { <Qr text=address.clone() label=words::code_picture(name) /> }
                })}
            <p class="quiet">
                {move || match left() {
                    left if left > 0 => words::code_left(&time::countdown(left)),
                    _ => words::CODE_ENDED.to_owned(),
                }}
            </p>
        </div>
    }
    .into_any()
}

#[component]
fn HandOut(person: Person) -> impl IntoView {
    let counter = Counter::here();
    let state = counter.state;
    let code = RwSignal::new(None::<Code>);
    let Person { id, name, .. } = person;
    let ask = move |_| {
        let question = CodeQuestion { person: id.clone() };
        counter.send(address::CREW_CODE.at([]), question, move |made| {
            // The form may be gone.
            let _ = code.try_set(Some(made));
        });
    };
    view! {
        <button type="button" class="button" on:click=ask>
            {words::HAND_OUT}
        </button>
        {told(state)}
        {move || code.get().map(|code| code_shown(code, &name))}
    }
}

/// What changes with every record: it belongs to the page, not to what is drawn anew on it.
#[derive(Clone, Copy)]
struct News {
    /// The keys as the newest records have them, on a device that has the records.
    keys: Memo<BTreeMap<DeviceId, KeyRow>>,
    /// The time, now and then, ms UTC.
    now_ms: Memo<i64>,
}

fn key_line(key: KeyRow, news: News, now_ms: i64) -> impl IntoView {
    let device = device();
    let (tone, word) = standing(&key, now_ms);
    let drawn = key.clone();
    // The line alone follows the news: a form that stands open below it stays as it is.
    let facts = move || {
        let now_ms = news.now_ms.try_get().map_or(now_ms, |now| now.max(now_ms));
        let newest = news.keys.try_with(|keys| keys.get(&drawn.device).cloned());
        words::key_facts(newest.flatten().as_ref().unwrap_or(&drawn), now_ms)
    };
    let (key_device, speaks) = (key.device, key.withdrawn.is_none());
    let reason = key.withdrawn.map(|gone| words::withdrawn(&gone));
    view! {
        <li class="crew-key">
            <p>
                <code class="crew-device">{short(key_device)}</code>
                " "
                <StatusWord tone word=word />
            </p>
            <p class="quiet">{facts}</p>
            {reason.map(|reason| view! { <p>{reason}</p> })}
            {key
                .forked_at
                .map(|seq| view! { <p class="field-wrong">{words::forked(seq)}</p> })}
            {move || {
                (speaks && may_muster(device)).then(|| view! { <WithdrawForm device=key_device /> })
            }}
        </li>
    }
}

fn standing(key: &KeyRow, now_ms: i64) -> (Tone, String) {
    if key.withdrawn.is_some() {
        (Tone::Alarm, words::WITHDRAWN.to_owned())
    } else if key.forked_at.is_some() {
        (Tone::Alarm, words::FROZEN.to_owned())
    } else if key.expires_ms <= now_ms {
        (Tone::Wait, words::ENDED.to_owned())
    } else {
        (Tone::Done, words::SPEAKS.to_owned())
    }
}

/// Returns the key's name in groups that can be read aloud.
fn short(device: DeviceId) -> String {
    let hex = record::hex::encode(&device.0);
    let head: Vec<&str> = (0..3)
        .filter_map(|at| hex.get(at * 4..at * 4 + 4))
        .collect();
    head.join(" ")
}

fn person_row(row: CrewRow, news: News, now_ms: i64, is_stranger: bool) -> impl IntoView {
    let device = device();
    let person = row.person;
    let roles = words::roles(roles_from_words(&person.roles));
    let stay = words::stay(person.joins_ms, person.leaves_ms);
    let keys: Vec<_> = row
        .keys
        .into_iter()
        .map(|key| key_line(key, news, now_ms))
        .collect();
    let has_none = keys.is_empty();
    let (name, rank) = (person.name.clone(), person.rank.clone());
    let may_change = move || !is_stranger && may_muster(device);
    let whole = person.clone();
    view! {
        <li class="crew-row">
            <h3>{name} <span class="quiet">{format!(", {rank}")}</span></h3>
            <p>{roles} <span class="quiet">{stay}</span></p>
            <ul class="crew-keys">{keys}</ul>
            {has_none.then(|| view! { <p class="quiet">{words::NO_DEVICE}</p> })}
            {move || {
                may_change()
                    .then(|| {
                        view! {
                            <div class="crew-acts">
                                <HandOut person=whole.clone() />
                                <details class="order-more">
                                    <summary>{words::CHANGE}</summary>
                                    <PersonForm of=Some(whole.clone()) />
                                </details>
                            </div>
                        }
                    })
            }}
        </li>
    }
}

fn body(page: Page, news: News) -> impl IntoView {
    let device = device();
    let now_ms = device.system.now_ms.get_untracked();
    let ship = page.vessel.clone();
    let people: Vec<_> = page
        .people
        .into_iter()
        .map(|row| person_row(row, news, now_ms, false))
        .collect();
    let strangers: Vec<_> = page
        .strangers
        .into_iter()
        .map(|row| person_row(row, news, now_ms, true))
        .collect();
    let has_strangers = !strangers.is_empty();
    view! {
        <div class="office-title">
            <h1>{words::CREW}</h1>
            <p class="quiet">{words::CREW_BODY}</p>
        </div>
        <ul class="crew-list">{people}</ul>
        {has_strangers
            .then(|| {
                view! {
                    <section class="procedure-part">
                        <h2>{words::STRANGERS}</h2>
                        <ul class="crew-list">{strangers}</ul>
                    </section>
                }
            })}
        {move || {
            may_muster(device)
                .then(|| {
                    view! {
                        <section class="procedure-part crew-acts">
                            <details class="order-more">
                                <summary>{words::TAKE_ON}</summary>
                                <PersonForm of=None />
                            </details>
                            {ship
                                .clone()
                                .map(|ship| {
                                    view! {
                                        <details class="order-more">
                                            <summary>{words::SHIP}</summary>
                                            <ShipForm ship />
                                        </details>
                                    }
                                })}
                        </section>
                    }
                })
        }}
    }
}

/// What the ship last said of when she heard each device.
fn heard(device: Device) -> BTreeMap<DeviceId, Heard> {
    device.link.board.with(|board| {
        let devices = board.iter().flat_map(|board| &board.devices);
        devices
            .filter_map(|card| {
                let news = Heard {
                    at_ms: card.heard_ms?,
                    offset_ms: card.offset_ms.unwrap_or(0),
                };
                Some((card.device, news))
            })
            .collect()
    })
}

/// The crew's page.
#[component]
pub fn CrewPage() -> impl IntoView {
    let device = device();
    Effect::new(move |_| device.dispatch(LinkCommand::Watch));
    let keys = Memo::new(move |_| {
        let heard = heard(device);
        let page = device
            .records
            .ledger
            .with(|ledger| ledger.as_ref().map(|ledger| crew::page(ledger, &heard)));
        page.map(Page::keys).unwrap_or_default()
    });
    let now_ms = Memo::new(move |_| device.system.now_ms.get().div_euclid(TICK_MS) * TICK_MS);
    let news = News { keys, now_ms };
    view! {
        <Title text=words::CREW />
        {super::shown(
            || address::CREW.at([]),
            move |ledger| Some(crew::page(ledger, &BTreeMap::new()).without_news()),
            move |page| body(page, news),
        )}
    }
}
