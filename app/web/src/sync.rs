//! The sync client: what each side lacks, then pages both ways, oldest first.
//!
//! Nothing waits for it, and nothing is believed that is not stored: what this device has is read from
//! its ledger, what the ship has is what the ship says now, and only a verified receipt counts as 'on the
//! ship'. The browser's word that there is a network is a hint to try at once, never a reason not to.

use crate::client::Client;
use crate::http::{self, HttpError};
use crate::timer::{BrowserClock, sleep};
use crate::{later, log};
use journal::port::{Clock as _, StoreError};
use journal::retry::Retry;
use journal::{address, outbox};
use leptos::prelude::*;
use record::sync::{
    Have, HaveReply, PageLimits, PullRequest, PushReply, Sequence, diff, plan_pages,
};
use record::{DeviceId, Envelope, Refusal, SignedReceipt, Vector};
use std::rc::Rc;
use ui::NotHere;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;

/// How often the task looks whether there is something to do, ms.
const LOOK_MS: i32 = 250;
/// Between tries to begin, ms.
const AGAIN_MS: i32 = 2_000;
/// A page asked for, bytes.
const PULL_BYTES: u64 = 256 * 1024;

/// Why a round did not come to its end. What was stored before it failed stays stored.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SyncError {
    #[error(transparent)]
    Http(#[from] HttpError),
    #[error("the ship's answer cannot be read: {0}")]
    Answer(#[from] Refusal),
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error(transparent)]
    Log(#[from] log::LogError),
    #[error(transparent)]
    NotHere(#[from] NotHere),
}

/// Syncs whenever there is reason to, for as long as the page lives.
pub async fn run_loop(client: Rc<Client>) {
    wake_on_events(&client);
    // A round goes on from what was found out before.
    while let Err(error) = open_log(&client).await {
        client
            .device
            .link
            .state
            .update(|link| link.trouble = Some(error.to_string()));
        sleep(AGAIN_MS).await;
    }
    let mut retry = Retry::default();
    loop {
        sleep(LOOK_MS).await;
        if client.own.get().is_none() {
            continue;
        }
        let now_ms = BrowserClock.now_ms();
        if !(retry.is_due(now_ms, is_eager(&client)) || client.wake.replace(false)) {
            continue;
        }
        retry.begin(now_ms);
        client.device.link.state.update(|link| link.busy = true);
        let done = match later::round(Rc::clone(&client)).await {
            Ok(round) => round.await,
            Err(not_here) => Err(not_here.into()),
        };
        client.device.link.state.update(|link| {
            link.busy = false;
            link.trouble = done.as_ref().err().map(ToString::to_string);
            if done.is_ok() {
                link.heard_ms = Some(BrowserClock.now_ms());
            }
        });
        retry.end(done.is_ok());
    }
}

async fn open_log(client: &Rc<Client>) -> Result<(), SyncError> {
    Ok(later::open_log(Rc::clone(client)).await?.await?)
}

/// Says whether records wait or a run is under way.
fn is_eager(client: &Client) -> bool {
    let is_waiting = client
        .device
        .link
        .state
        .with_untracked(|link| link.waiting > 0);
    is_waiting || client.lively.get()
}

/// Tries at once when the page is looked at again or the browser says that a network is there.
fn wake_on_events(client: &Rc<Client>) {
    let client = Rc::clone(client);
    let wake = Closure::<dyn FnMut()>::new(move || client.wake.set(true));
    if let Some(window) = web_sys::window() {
        let listener = wake.as_ref().unchecked_ref();
        // Refused only for a name that is no text.
        let _ = window.add_event_listener_with_callback("online", listener);
        if let Some(document) = window.document() {
            let _ = document.add_event_listener_with_callback("visibilitychange", listener);
        }
    }
    wake.forget(); // for as long as the page lives
}

/// Sends what the ship lacks, fetches what this device lacks, and looks at the ship's roll.
pub async fn round(client: &Client) -> Result<(), SyncError> {
    let Some(own) = client.own.get() else {
        return Ok(());
    };
    let Some((vessel, ours)) = client.device.records.ledger.with_untracked(|ledger| {
        ledger
            .as_ref()
            .map(|ledger| (ledger.vessel(), ledger.vector()))
    }) else {
        return Ok(());
    };
    let asked_ms = BrowserClock.now_ms();
    let have = Have {
        vessel,
        vector: ours.clone(),
    }
    .encode();
    let url = address::SYNC_HAVE.at([]);
    let url = url.with("device", own).with("time", asked_ms);
    let reply = HaveReply::decode(&http::post_cbor(url.as_str(), &have).await?.bytes)?;
    let middle_ms = i64::midpoint(asked_ms, BrowserClock.now_ms());
    client.device.link.state.update(|link| {
        link.offset_ms = Some(middle_ms - reply.server_time_ms);
        link.heard_ms = Some(BrowserClock.now_ms());
    });
    push(client, own, &reply.vector).await?;
    if !diff(&reply.vector, &ours).is_empty() {
        pull(client, vessel).await?;
    }
    log::look(client, vessel).await?;
    Ok(())
}

/// Sends what the ship lacks, and asks for the receipt that an earlier, cut answer did not bring.
async fn push(client: &Client, own: DeviceId, theirs: &Vector) -> Result<(), SyncError> {
    let chains = client.own_chains();
    let to_send = client.device.records.ledger.with_untracked(|ledger| {
        let ledger = ledger.as_ref()?;
        let signed_for = |chain| client.signed_for(chain);
        Some((
            outbox::to_send(ledger, own, &chains, signed_for, theirs),
            outbox::away_to_send(ledger, own, &chains, signed_for, theirs),
        ))
    });
    let (mut to_send, away) = to_send.unwrap_or_default();
    if !away.is_empty() {
        // As after the ship was put back from a backup.
        let stored = client.store.records_at(&away).await?;
        let stored = stored.iter();
        let stored = stored.filter_map(|bytes| Envelope::decode(bytes).ok());
        to_send.records.extend(stored);
    }
    let mut pages: Vec<Vec<u8>> = plan_pages(to_send.records, PageLimits::default())
        .iter()
        .map(record::sync::Page::bytes)
        .collect();
    if to_send.asks_for_receipt {
        pages.push(Vec::new());
    }
    for page in pages {
        let time_ms = BrowserClock.now_ms();
        let url = address::SYNC_PUSH.at([]);
        let url = url.with("device", own).with("time", time_ms);
        let reply = PushReply::decode(&http::post_cbor(url.as_str(), &page).await?.bytes)?;
        take_receipts(client, &reply).await;
        if !reply.rejected.is_empty() {
            client.device.link.state.update(|link| {
                for rejected in &reply.rejected {
                    let name = rejected.id.map_or_else(String::new, |id| id.to_string());
                    if !link.refused.iter().any(|(known, _)| *known == name) {
                        link.refused.push((name, rejected.reason.clone()));
                    }
                }
            });
        }
    }
    Ok(())
}

async fn take_receipts(client: &Client, reply: &PushReply) {
    let own = client.own_chains();
    let authority = client
        .device
        .records
        .ledger
        .with_untracked(|ledger| ledger.as_ref().map(journal::Ledger::authority));
    let Some(authority) = authority else { return };
    for bytes in &reply.receipts {
        match SignedReceipt::verify(bytes, &authority) {
            Ok(receipt) if own.contains(&receipt.receipt().device) => {
                client.keep_receipt(receipt).await;
            }
            Ok(_) => {}
            Err(refusal) => client.device.link.state.update(|link| {
                link.refused
                    .push(("receipt".to_owned(), refusal.to_string()));
            }),
        }
    }
}

/// Fetches what this device lacks, page by page; each page is on disk before the next is asked for.
async fn pull(client: &Client, vessel: record::VesselId) -> Result<(), SyncError> {
    loop {
        let vector = client
            .device
            .records
            .ledger
            .with_untracked(|ledger| ledger.as_ref().map(journal::Ledger::vector))
            .unwrap_or_default();
        let request = PullRequest {
            vessel,
            vector,
            max_bytes: PULL_BYTES,
        }
        .encode();
        let page = http::post_cbor(address::SYNC_PULL.path(), &request)
            .await?
            .bytes;
        let envelopes: Vec<Envelope> = Sequence::new(&page)
            .filter_map(|item| Envelope::decode(item.bytes).ok())
            .collect();
        if envelopes.is_empty() || client.take_up(envelopes).await? == 0 {
            return Ok(());
        }
    }
}
