//! Stopping the work: within reach on every page of a run, whoever holds the phone.

use super::run::working;
use crate::parts::HoldButton;
use crate::port::device;
use crate::words;
use leptos::prelude::*;
use procedure::Event;

/// The key that stops the work; gone once it is stopped or closed.
#[component]
pub fn StopKey() -> impl IntoView {
    let working = working();
    let device = device();
    let can_stop = Memo::new(move |_| {
        device.me().is_some()
            && working.card.with(|card| {
                card.as_ref()
                    .is_some_and(|card| card.view.stopped.is_none() && card.view.closed.is_none())
            })
    });
    move || {
        can_stop.get().then(|| {
            view! {
                <HoldButton
                    label=words::STOP_WORK
                    on_held=move |()| {
                        working.say(stop_event(words::STOP_CAUSE.text()));
                    }
                />
            }
        })
    }
}

/// Makes the event that stops a run.
pub fn stop_event(cause: &str) -> Event {
    Event::Stop {
        cause: cause.to_owned(),
    }
}
