//! A notice across the page about the device itself: its storage, its version, its sends.

use leptos::prelude::*;

use super::status_word::{Tone, ToneShape};
use crate::words::parts as words;

/// What the device has to say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Notice {
    /// The browser did not promise to keep the storage.
    StorageNotPersistent,
    /// Storage runs low; megabytes left.
    StorageLow(u64),
    /// The last press did not reach the disk; the reason in words.
    NotSaved(String),
    /// A newer version of the program is ready and will be taken when no run is being worked.
    UpdateReady,
    /// Two tabs are open; this one does not write.
    OtherTab,
    /// The device's clock is off from the ship's by this many seconds.
    ClockOff(i64),
    /// The page did not reach the server; the reason in words.
    NotReached(String),
}

impl Notice {
    /// Returns how much the notice asks of the reader.
    pub fn tone(&self) -> Tone {
        match self {
            Self::NotSaved(_) => Tone::Alarm,
            Self::UpdateReady => Tone::Calm,
            Self::StorageNotPersistent
            | Self::StorageLow(_)
            | Self::OtherTab
            | Self::ClockOff(_)
            | Self::NotReached(_) => Tone::Wait,
        }
    }
}

/// One notice with what to do about it.
#[component]
pub fn Banner(
    /// What the device has to say.
    #[prop(into)]
    notice: Signal<Notice>,
    /// Called when the notice's own action is pressed; without it the notice has no button.
    #[prop(optional, into)]
    on_act: Option<Callback<()>>,
) -> impl IntoView {
    let role = move || {
        if notice.read().tone() == Tone::Alarm {
            "alert"
        } else {
            "status"
        }
    };
    view! {
        <div class=move || format!("banner {}", notice.read().tone().class()) role=role>
            {move || view! { <ToneShape tone=notice.read().tone() /> }}
            <p class="banner-text">
                <strong>{move || words::notice_head(&notice.read())}</strong>
                " "
                {move || words::notice_body(&notice.read())}
            </p>
            {move || {
                on_act
                    .map(|on_act| {
                        view! {
                            <button type="button" class="button is-quiet" on:click=move |_| on_act.run(())>
                                {words::notice_act(&notice.read())}
                            </button>
                        }
                    })
            }}
        </div>
    }
    .into_any()
}
