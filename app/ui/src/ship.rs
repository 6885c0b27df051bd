//! The ship's own pages: her procedures, what is due, her settings. They work without a network on a device
//! that has her records, and from her server on one that has not.

pub mod card;
pub mod crew;
pub mod defects;
mod editor;
pub mod gear;
mod in_force;
mod limits;
pub mod log;
pub mod procedure;
pub mod procedures;
pub mod proof;
pub mod rounds;
pub mod settings;
pub mod trouble;

use crate::office::head::OfficeHead;
use crate::parts::Empty;
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
            <main class="office-main">{drawn}</main>
        </div>
    }
    .into_any()
}
