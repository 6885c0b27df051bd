//! The sheet that opens a key: who has this phone, and their PIN. Over whatever page asked for it.

mod phone_lock;

pub use phone_lock::PhoneLockOffer;

use crate::later::{Later, LaterSheet};
use crate::parts::pin_pad::PinPad;
use crate::port::{Device, DeviceUser, KeyCommand, Lock, PinAttempt, UnlockView, device};
use crate::words::unlock_sheet as words;
use journal::{Pin, PinLength, WeakPin};
use leptos::prelude::*;
use leptos_router::hooks::use_navigate;
use phone_lock::{PhoneLock, PhoneLockKey, PhoneLockSaid};

/// Returns what is to be said about the PIN of somebody: how long to wait, or what was wrong.
pub fn about_pin(device: Device, until_ms: i64) -> Option<String> {
    let wait_ms = until_ms - device.system.now_ms.get();
    if wait_ms > 0 {
        return Some(words::wait((wait_ms + 999) / 1000));
    }
    match device.identity.attempt.get() {
        PinAttempt::Wrong => Some(words::WRONG_PIN.to_owned()),
        PinAttempt::Failed(why) => Some(why),
        PinAttempt::Idle | PinAttempt::Working => None,
    }
}

/// Returns the key of whoever has the phone, where its PIN is shorter than their roles ask for.
pub fn short_pin(device: Device) -> Option<String> {
    let own = device.me()?.device.to_string();
    let is_short = device.identity.people.with(|people| {
        let mut people = people.iter();
        people.any(|one| one.device == own && one.is_pin_short)
    });
    is_short.then_some(own)
}

/// Says whether a PIN of that many digits may be tried now.
pub fn may_try(device: Device, typed: RwSignal<String>, until_ms: i64) -> bool {
    typed.with(|typed| typed.len() >= journal::pin::LEAST_DIGITS)
        && device
            .identity
            .attempt
            .with(|trying| *trying != PinAttempt::Working)
        && device.system.now_ms.get() >= until_ms
}

/// Who has the phone, and whether their key is open: leads to everybody on this phone.
#[component]
pub fn PersonMark() -> impl IntoView {
    let device = device();
    move || {
        let me = device.me()?;
        let surname = me.name.rsplit(' ').next().unwrap_or_default().to_owned();
        let state = move || match device.identity.lock.get() {
            Lock::Open => words::UNLOCKED,
            Lock::Locked => words::LOCKED,
            Lock::NoPin => words::NO_PIN,
        };
        let label = move || format!("{}, {}", me.name, state());
        Some(view! {
            <button
                type="button"
                class="person-mark"
                data-state=move || match device.identity.lock.get() {
                    Lock::Open => "unlocked",
                    Lock::NoPin => "no-pin",
                    Lock::Locked => "locked",
                }
                aria-label=label
                on:click=move |_| device.identity.sheet.set(Some(UnlockView::People))
            >
                <svg viewBox="0 0 28 18" aria-hidden="true" focusable="false">
                    // A shackle: its pin is in, or out.
                    <path d="M6 17V9a8 8 0 0 1 16 0v8" />
                    {move || (device.identity.lock.get() == Lock::Locked).then(|| view! { <path d="M2 14.5h24" /> })}
                </svg>
                <span>{surname}</span>
            </button>
        })
    }
}

/// The sheet, while it is shown.
#[component]
pub fn UnlockSheet() -> impl IntoView {
    let Some(device) = use_context::<Device>() else {
        return ().into_any();
    };
    let is_shown = Memo::new(move |_| device.identity.sheet.with(Option::is_some));
    let body = move || {
        is_shown
            .get()
            .then(|| view! { <LaterSheet sheet=Later::UNLOCK /> })
    };
    body.into_any()
}

/// What the sheet shows.
#[component]
pub fn UnlockPanel() -> impl IntoView {
    let device = device();
    let navigate = use_navigate();
    let to_enrol = Callback::new(move |()| {
        device.dispatch(KeyCommand::NotNow);
        navigate("/bow/enrol", leptos_router::NavigateOptions::default());
    });
    let shown = Memo::new(move |_| device.identity.sheet.get());
    let body = move || {
        shown.get().map(|view| {
            let inner = match view {
                UnlockView::People => view! { <People device to_enrol /> }.into_any(),
                UnlockView::Pin(chain) => view! { <AskPin device chain to_enrol /> }.into_any(),
                UnlockView::Change(chain) => view! { <Change device chain /> }.into_any(),
                UnlockView::PhoneLock(chain) => {
                    view! { <PhoneLock device chain to_enrol /> }.into_any()
                }
                UnlockView::Lost(chain) => view! { <Lost device chain to_enrol /> }.into_any(),
            };
            view! {
                <div class="unlock-sheet">
                    <section
                        class="unlock-panel"
                        role="dialog"
                        aria-modal="true"
                        aria-labelledby="unlock-title"
                        on:keydown=move |pressed| {
                            if pressed.key() == "Escape" {
                                device.dispatch(KeyCommand::NotNow);
                            }
                        }
                    >
                        {inner}
                    </section>
                </div>
            }
        })
    };
    body.into_any()
}

fn resident(device: Device, chain: &str) -> DeviceUser {
    device.identity.people.with(|people| {
        people
            .iter()
            .find(|one| one.device == chain)
            .cloned()
            .unwrap_or_default()
    })
}

#[component]
fn People(device: Device, to_enrol: Callback<()>) -> impl IntoView {
    let mine = move || {
        device
            .me()
            .map(|me| me.device.to_string())
            .unwrap_or_default()
    };
    let row = move |one: DeviceUser| {
        let chain = one.device.clone();
        let is_mine = one.device == mine();
        let state = move || {
            if !one.has_pin {
                words::NO_PIN.text()
            } else if is_mine && device.identity.lock.get() == Lock::Open {
                words::UNLOCKED.text()
            } else {
                words::LOCKED.text()
            }
        };
        let pick = move |_| {
            device
                .identity
                .sheet
                .set(Some(UnlockView::Pin(chain.clone())));
        };
        view! {
            <li>
                <button type="button" class="person-key" aria-pressed=is_mine.to_string() on:click=pick>
                    <span class="person-name">{one.name}</span>
                    <span class="person-role">{one.rank}</span>
                    <span class="person-chosen">{state}</span>
                </button>
            </li>
        }
    };
    view! {
        <h2 id="unlock-title">{words::WHO}</h2>
        <p>{words::WHO_BODY}</p>
        <ul class="person-pick">
            {move || device.identity.people.get().into_iter().map(row).collect_view()}
        </ul>
        <div class="unlock-keys">
            {move || {
                (device.identity.lock.get() == Lock::Open)
                    .then(|| {
                        view! {
                            <button type="button" class="button" on:click=move |_| device.dispatch(KeyCommand::Lock)>
                                {words::LOCK_NOW}
                            </button>
                        }
                    })
            }}
            {move || {
                let chain = mine();
                resident(device, &chain)
                    .has_pin
                    .then(|| {
                        let change = move |_| {
                            let view = UnlockView::Change(chain.clone());
                            device.identity.sheet.set(Some(view));
                        };
                        view! {
                            <button type="button" class="button" on:click=change>
                                {words::CHANGE_PIN}
                            </button>
                        }
                    })
            }}
            <PhoneLockKey device />
            <button type="button" class="button" on:click=move |_| to_enrol.run(())>
                {words::ADD_PERSON}
            </button>
            <NotNow device />
        </div>
    }
}

#[component]
fn NotNow(device: Device) -> impl IntoView {
    view! {
        <button type="button" class="button" on:click=move |_| device.dispatch(KeyCommand::NotNow)>
            {words::NOT_NOW}
        </button>
    }
}

#[component]
fn AskPin(device: Device, chain: String, to_enrol: Callback<()>) -> impl IntoView {
    let (name, has_pin) = {
        let one = untrack(|| resident(device, &chain));
        (one.name, one.has_pin)
    };
    let typed = RwSignal::new(String::new());
    let of_whom = StoredValue::new(chain);
    let until =
        Signal::derive(move || of_whom.with_value(|chain| resident(device, chain).until_ms));
    // A wrong PIN is typed anew, not mended.
    Effect::new(move |_| {
        if device.identity.attempt.get() == PinAttempt::Wrong {
            typed.set(String::new());
        }
    });
    let open = move |pin: Pin| {
        device.dispatch(KeyCommand::Unlock {
            device: of_whom.get_value(),
            pin,
        });
    };
    if !has_pin {
        return view! {
            <h2 id="unlock-title">{name}</h2>
            <p>{words::NO_PIN_BODY}</p>
            <div class="unlock-keys">
                <button
                    type="button"
                    class="button is-primary"
                    on:click=move |_| open(Pin::typed(""))
                >
                    {words::UNLOCK}
                </button>
                <NotNow device />
            </div>
        }
        .into_any();
    }
    let said = Signal::derive(move || about_pin(device, until.get()));
    let ready = Signal::derive(move || may_try(device, typed, until.get()));
    let end = Signal::derive(move || {
        if device.identity.attempt.get() == PinAttempt::Working {
            words::WORKING.to_owned()
        } else {
            words::UNLOCK.to_owned()
        }
    });
    let title = words::pin_of(&name);
    let label = title.clone();
    // It opens all the same: what is asked for can wait until the work allows.
    let longer = move || {
        of_whom
            .with_value(|chain| resident(device, chain).is_pin_short)
            .then(|| {
                let change = move |_| {
                    let view = UnlockView::Change(of_whom.get_value());
                    device.identity.sheet.set(Some(view));
                };
                view! {
                    <p class="pin-said">{words::weak(WeakPin::ShortForRoles)}</p>
                    <button type="button" class="button" on:click=change>
                        {words::LONGER_PIN}
                    </button>
                }
            })
    };
    view! {
        <h2 id="unlock-title">{title}</h2>
        <PinPad
            label=label
            typed
            said
            end
            ready
            count=words::digits
            erase=words::ERASE.text()
            on_end=move |()| open(Pin::typed(&typed.get_untracked()))
        />
        {longer}
        <PhoneLockSaid device of_whom to_enrol />
        <div class="unlock-keys is-row">
            <button type="button" class="button" on:click=move |_| device.identity.sheet.set(Some(UnlockView::People))>
                {words::SOMEBODY_ELSE}
            </button>
            <button
                type="button"
                class="button"
                on:click=move |_| device.identity.sheet.set(Some(UnlockView::Lost(of_whom.get_value())))
            >
                {words::PIN_LOST}
            </button>
        </div>
        <div class="unlock-keys">
            <NotNow device />
        </div>
    }
    .into_any()
}

#[component]
fn Lost(device: Device, chain: String, to_enrol: Callback<()>) -> impl IntoView {
    let back = move |_| {
        device
            .identity
            .sheet
            .set(Some(UnlockView::Pin(chain.clone())));
    };
    view! {
        <h2 id="unlock-title">{words::LOST_HEAD}</h2>
        <p>{words::LOST_BODY}</p>
        <div class="unlock-keys">
            <button type="button" class="button is-primary" on:click=move |_| to_enrol.run(())>
                {words::ENROL_ANEW}
            </button>
            <button type="button" class="button" on:click=back>
                {words::BACK_TO_PIN}
            </button>
            <NotNow device />
        </div>
    }
}

/// Which of the three PINs is typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Typing {
    Old,
    New,
    Again,
}

#[component]
fn Change(device: Device, chain: String) -> impl IntoView {
    let length = untrack(|| device.me()).map_or(PinLength::Usual, |me| PinLength::of(me.roles));
    let typing = RwSignal::new(Typing::Old);
    let typed = RwSignal::new(String::new());
    // What was typed before: the old one and the new one.
    let held = StoredValue::new([String::new(), String::new()]);
    let is_unlike = RwSignal::new(false);
    let of_whom = StoredValue::new(chain);
    let until =
        Signal::derive(move || of_whom.with_value(|chain| resident(device, chain).until_ms));
    let ask = move |next: Typing| {
        typed.set(String::new());
        typing.set(next);
    };
    // A wrong PIN is typed anew, and the new one stays as it was typed.
    Effect::new(move |_| {
        if device.identity.attempt.get() == PinAttempt::Wrong {
            ask(Typing::Old);
        }
    });
    let change = move || {
        let [old, new] = held.get_value();
        if let Ok(new) = Pin::chosen_as(&new, length) {
            device.dispatch(KeyCommand::ChangePin {
                device: of_whom.get_value(),
                old: Pin::typed(&old),
                new,
            });
        }
    };
    let go_on = move |()| {
        let text = typed.get_untracked();
        match typing.get_untracked() {
            Typing::Old => {
                held.update_value(|held| held[0] = text);
                if held.with_value(|held| held[1].is_empty()) {
                    ask(Typing::New);
                } else {
                    change();
                }
            }
            Typing::New => {
                held.update_value(|held| held[1] = text);
                ask(Typing::Again);
            }
            Typing::Again if held.with_value(|held| held[1] == text) => change(),
            Typing::Again => {
                held.update_value(|held| held[1] = String::new());
                is_unlike.set(true);
                ask(Typing::New);
            }
        }
    };
    let judged = Memo::new(move |_| typed.with(|typed| Pin::chosen_as(typed, length).map(|_| ())));
    let said = Signal::derive(move || {
        if typing.get() != Typing::New {
            return about_pin(device, until.get());
        }
        match judged.get() {
            Err(why) if typed.with(|typed| typed.len() >= length.least()) => Some(words::weak(why)),
            _ => (is_unlike.get() && typed.with(String::is_empty))
                .then(|| words::CHANGE_UNLIKE.to_owned()),
        }
    });
    let ready = Signal::derive(move || match typing.get() {
        Typing::New => judged.get().is_ok(),
        Typing::Old | Typing::Again => may_try(device, typed, until.get()),
    });
    let asked = Signal::derive(move || {
        let word = match typing.get() {
            Typing::Old => words::CHANGE_OLD,
            Typing::New => words::CHANGE_NEW,
            Typing::Again => words::CHANGE_AGAIN,
        };
        word.to_owned()
    });
    let end = Signal::derive(move || {
        let is_working = device.identity.attempt.get() == PinAttempt::Working;
        let word = if is_working {
            words::WORKING
        } else {
            words::CHANGE_GO_ON
        };
        word.to_owned()
    });
    let least = match length {
        PinLength::Usual => WeakPin::Short,
        PinLength::Long => WeakPin::ShortForRoles,
    };
    view! {
        <h2 id="unlock-title">{words::CHANGE_HEAD}</h2>
        <p>{words::weak(least)}</p>
        <h3 role="status">{move || asked.get()}</h3>
        <PinPad
            label=asked
            typed
            said
            end
            ready
            count=words::digits
            erase=words::ERASE.text()
            on_end=go_on
        />
        <div class="unlock-keys">
            <NotNow device />
        </div>
    }
}
