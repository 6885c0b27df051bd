//! The ship's own pages: her procedures, what is due, her settings. They work without a network on a device
//! that has her records, and from her server on one that has not.

pub mod card;
pub mod crew;
pub mod defects;
pub mod drills;
mod editor;
pub mod foredeck;
pub mod gear;
mod in_force;
mod limits;
pub mod marks;
pub mod procedure;
pub mod procedures;
pub mod proof;
pub mod roll;
pub mod rounds;
pub mod settings;
pub mod setup;
pub mod survey;
mod take_in;
mod trial;
pub mod trouble;

use crate::office::head::OfficeHead;
use crate::parts::Empty;
use crate::platform;
use crate::port::{device, source};
use crate::words as common;
use journal::Ledger;
use journal::address::{Json, Nothing, Url};
use leptos::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::sync::Arc;

/// What a page shows, made from this device's records, or else fetched from the ship.
pub trait Shown: Clone + PartialEq + Serialize + DeserializeOwned + Send + Sync + 'static {}

impl<T: Clone + PartialEq + Serialize + DeserializeOwned + Send + Sync + 'static> Shown for T {}

/// What a page has drawn, and whose news it has drawn it for.
#[derive(Clone, PartialEq)]
struct Drawn<T> {
    page: Option<T>,
    /// How many records this device's people have made, and how often a form has said that it is done with.
    own: (u64, u32),
    /// The records say something newer.
    waits: bool,
}

/// Lets a page draw what comes of a form, though the form stands open.
#[derive(Debug, Clone, Copy)]
pub struct FormDone(RwSignal<u32>);

impl FormDone {
    /// Says that the form's work is done.
    pub fn say(self) {
        // The page may be gone.
        let _ = self.0.try_update(|times| *times += 1);
    }
}

/// Says whether a form stands open on the page: it is not drawn anew under whoever writes in it.
fn has_open_form() -> bool {
    platform::is_on_page(".office-main details[open]")
}

/// Draws `body` of what the records on this device say, or of what the ship answers at an address.
pub fn shown<T: Shown, V: IntoView + 'static>(
    address: impl Fn() -> Url<Nothing, Json<T>> + Send + Sync + 'static,
    made: impl Fn(&Ledger) -> Option<T> + Send + Sync + 'static,
    body: impl Fn(T) -> V + Send + Sync + 'static,
) -> AnyView {
    let device = device();
    let source = source();
    let here = Memo::new(move |_| {
        device
            .records
            .ledger
            .with(|ledger| ledger.as_ref().and_then(&made))
    });
    let (done, look) = (RwSignal::new(0_u32), RwSignal::new(()));
    provide_context(FormDone(done));
    let held = Memo::new(move |before: Option<&Drawn<T>>| {
        let page = here.get();
        look.track();
        let made = device.records.ledger.with(|ledger| {
            let own = device.me()?.device;
            Some(ledger.as_ref()?.height_of(own))
        });
        let own = (made.unwrap_or_default(), done.get());
        match before {
            // What comes of a form may be a moment behind it: its word holds until the page changes.
            Some(old) if old.page == page => Drawn {
                waits: false,
                ..old.clone()
            },
            Some(old) if old.page.is_some() && old.own == own && has_open_form() => Drawn {
                waits: true,
                ..old.clone()
            },
            _ => Drawn {
                page,
                own,
                waits: false,
            },
        }
    });
    let here = Memo::new(move |_| held.with(|held| held.page.clone()));
    let waits = Memo::new(move |_| held.with(|held| held.waits));
    // A form closes after the press that closes it.
    let look_again = move |_| {
        set_timeout(
            move || {
                // The page may be gone.
                let _ = look.try_set(());
            },
            std::time::Duration::from_millis(50),
        );
    };
    let far = Resource::new(
        move || address().into_string(),
        move |path| {
            let source = source.clone();
            async move { source.read::<T>(path).await }
        },
    );
    let body = Arc::new(body);
    let drawn = move || {
        let body = Arc::clone(&body);
        if let Some(page) = here.get() {
            return body(page).into_any();
        }
        let there = move || {
            let body = Arc::clone(&body);
            Suspend::new(async move {
                match far.await {
                    Ok(page) => body(page).into_any(),
                    Err(why) => {
                        view! { <Empty head=common::BOARD_UNREACHED body=why /> }.into_any()
                    }
                }
            })
        };
        view! {
            <Suspense fallback=|| {
                view! { <Empty head=common::LOADING body="" /> }
            }>{there}</Suspense>
        }
        .into_any()
    };
    view! {
        <div class="office ship">
            <OfficeHead />
            <main class="office-main" on:click=look_again>
                {move || {
                    waits
                        .get()
                        .then(|| view! { <p class="form-news" role="status">{common::NEWS_BEHIND_FORM}</p> })
                }}
                {drawn}
            </main>
        </div>
    }
    .into_any()
}
