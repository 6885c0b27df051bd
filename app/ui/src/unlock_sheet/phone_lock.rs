//! The phone's own lock on a key, beside its PIN: offered to whoever asks for it, put on and taken off.

use super::{NotNow, about_pin, may_try, resident};
use crate::parts::pin_pad::PinPad;
use crate::port::{Device, KeyCommand, PinAttempt, UnlockView};
use crate::words::unlock_sheet as words;
use journal::{Pin, PinLength};
use leptos::prelude::*;

/// The key that leads to the phone's lock of whoever has the phone, where there is one to put on or take off.
#[component]
pub fn PhoneLockKey(device: Device) -> impl IntoView {
    Effect::new(move |_| device.dispatch(KeyCommand::LookForPhoneLock));
    let kept = Memo::new(move |_| {
        let own = device.me()?.device.to_string();
        let one = resident(device, &own);
        let is_offered = one.has_phone_lock || device.identity.can_lock_to_phone.get();
        (one.has_pin && is_offered).then_some((own, one.has_phone_lock))
    });
    move || {
        let (own, is_on) = kept.get()?;
        let show = move |_| {
            let view = UnlockView::PhoneLock(own.clone());
            device.identity.sheet.set(Some(view));
        };
        let word = if is_on {
            words::PHONE_LOCK_OFF
        } else {
            words::PHONE_LOCK
        };
        Some(view! {
            <button type="button" class="button" on:click=show>
                {word}
            </button>
        })
    }
}

/// The same at the end of an enrolment, with whom it is advised to.
#[component]
pub fn PhoneLockOffer(device: Device) -> impl IntoView {
    let advised = move || {
        let me = device.me()?;
        let is_trusted = PinLength::of(me.roles) == PinLength::Long;
        let has_lock = resident(device, &me.device.to_string()).has_phone_lock;
        (is_trusted && !has_lock && device.identity.can_lock_to_phone.get())
            .then(|| view! { <p>{words::PHONE_ADVISED}</p> })
    };
    view! {
        {advised}
        <PhoneLockKey device />
    }
}

/// What is said of a key that is locked to the phone too, where its PIN is asked for; and the way out.
#[component]
pub fn PhoneLockSaid(
    device: Device,
    of_whom: StoredValue<String>,
    to_enrol: Callback<()>,
) -> impl IntoView {
    let has_lock =
        Memo::new(move |_| of_whom.with_value(|chain| resident(device, chain).has_phone_lock));
    let way_out = move || {
        matches!(device.identity.attempt.get(), PinAttempt::Failed(_)).then(|| {
            view! {
                <button type="button" class="button" on:click=move |_| to_enrol.run(())>
                    {words::ENROL_ANEW}
                </button>
            }
        })
    };
    move || {
        has_lock.get().then(|| {
            view! {
                <p class="quiet">{words::PHONE_ON}</p>
                {way_out}
            }
        })
    }
}

/// What the lock does, and the PIN that puts it on or takes it off.
#[component]
pub fn PhoneLock(device: Device, chain: String, to_enrol: Callback<()>) -> impl IntoView {
    let is_on = untrack(|| resident(device, &chain).has_phone_lock);
    let typed = RwSignal::new(String::new());
    let of_whom = StoredValue::new(chain);
    let until =
        Signal::derive(move || of_whom.with_value(|chain| resident(device, chain).until_ms));
    // What was said of another try is not about this one.
    device.identity.attempt.set(PinAttempt::Idle);
    Effect::new(move |_| {
        if device.identity.attempt.get() == PinAttempt::Wrong {
            typed.set(String::new());
        }
    });
    let said = Signal::derive(move || about_pin(device, until.get()));
    let ready = Signal::derive(move || may_try(device, typed, until.get()));
    let end = Signal::derive(move || {
        let is_working = device.identity.attempt.get() == PinAttempt::Working;
        let word = match (is_working, is_on) {
            (true, _) => words::WORKING,
            (false, true) => words::PHONE_TAKE_OFF,
            (false, false) => words::PHONE_PUT_ON,
        };
        word.to_owned()
    });
    let set = move |()| {
        device.dispatch(KeyCommand::SetPhoneLock {
            device: of_whom.get_value(),
            pin: Pin::typed(&typed.get_untracked()),
            is_wanted: !is_on,
        });
    };
    let (head, about) = if is_on {
        (words::PHONE_LOCK_OFF, vec![words::PHONE_OFF_BODY])
    } else {
        let about = [words::PHONE_BODY, words::PHONE_GLOVES, words::PHONE_LOSS];
        (words::PHONE_HEAD, about.to_vec())
    };
    view! {
        <h2 id="unlock-title">{head}</h2>
        {about.into_iter().map(|said| view! { <p>{said}</p> }).collect_view()}
        <PinPad
            label=words::PIN
            typed
            said
            end
            ready
            count=words::digits
            erase=words::ERASE.text()
            on_end=set
        />
        <PhoneLockSaid device of_whom to_enrol />
        <div class="unlock-keys">
            <NotNow device />
        </div>
    }
}
