//! The honest line under the bow's heading: what waits here, and when the ship was last heard.

use leptos::prelude::*;

use super::age::Fading;
use crate::words::parts as words;

/// What the phone knows of its records and of the ship.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SyncState {
    /// Records on the phone's disk for which no receipt has come.
    pub waiting: usize,
    /// Records the ship set aside with a reason.
    pub refused: usize,
    /// The ship has withdrawn the key: nothing more is sent.
    pub is_withdrawn: bool,
    /// Seconds since the ship was last heard; none when it never was.
    pub heard_s: Option<u64>,
}

/// One line: where the records are, in words, with the shape of the link to the ship.
#[component]
pub fn SyncLine(
    /// What the phone knows.
    #[prop(into)]
    state: Signal<SyncState>,
) -> impl IntoView {
    let fading = move || Fading::after(state.get().heard_s);
    let class = move || {
        let waits = if state.get().refused > 0 || state.get().is_withdrawn {
            "is-refused"
        } else if state.get().waiting > 0 {
            "is-waiting"
        } else {
            "is-aboard"
        };
        format!("sync-line {} {waits}", fading().class())
    };
    view! {
        <p class=class role="status">
            <span class="sync-ship">
                <svg class="sync-shape" viewBox="0 0 28 16" aria-hidden="true" focusable="false">
                    {move || {
                        if matches!(fading(), Fading::Fresh | Fading::Fading) {
                            // Two links joined.
                            view! {
                                <rect x="1.5" y="3.5" width="15" height="9" rx="4.5" />
                                <rect x="11.5" y="3.5" width="15" height="9" rx="4.5" />
                            }
                                .into_any()
                        } else {
                            // Two links parted.
                            view! {
                                <path d="M9 12.5H6a4.5 4.5 0 0 1 0-9h3" />
                                <path d="M19 3.5h3a4.5 4.5 0 0 1 0 9h-3" />
                            }
                                .into_any()
                        }
                    }}
                </svg>
                {move || words::ship_heard(state.get().heard_s)}
            </span>
            <span class="sync-waiting">{move || words::records_waiting(state.get())}</span>
        </p>
    }
    .into_any()
}
