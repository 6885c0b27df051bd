//! The sync client: what each side lacks, then pages both ways, oldest first.
//!
//! Nothing waits for it, and nothing is believed that is not stored: what this device has is read from
//! its ledger, what the ship has is what the ship says now, and only a verified receipt counts as 'on the
//! ship'. The browser's word that there is a network is a hint to try at once, never a reason not to.

use crate::client::Client;
use crate::http::{self, HttpError};
use crate::log;
use crate::timer::{BrowserClock, sleep};
use journal::address;
use journal::port::{Clock as _, StoreError};
use leptos::prelude::*;
use record::sync::{
    Have, HaveReply, PageLimits, PullRequest, PushReply, Sequence, diff, lacking, plan_pages,
};
use record::{DeviceId, Envelope, Refusal, SignedReceipt, Vector};
use std::rc::Rc;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;

/// Between tries while records wait or a run is under way, ms.
const EAGER_MS: i64 = 2_000;
/// Between tries while nothing waits, ms.
const CALM_MS: i64 = 15_000;
/// Longest wait after failures, ms.
const LONGEST_MS: i64 = 30_000;
/// How often the task looks whether there is something to do, ms.
const LOOK_MS: i32 = 250;
/// A page asked for, bytes.
const PULL_BYTES: u64 = 256 * 1024;

/// Why a round did not come to its end. What was stored before it failed stays stored.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
enum SyncError {
    #[error(transparent)]
    Http(#[from] HttpError),
    #[error("the ship's answer cannot be read: {0}")]
    Answer(#[from] Refusal),
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error(transparent)]
    Log(#[from] log::LogError),
}

/// Syncs whenever there is reason to, for as long as the page lives.
pub async fn run_loop(client: Rc<Client>) {
    wake_on_events(&client);
    let mut failures = 0_u32;
    let mut last_ms = i64::MIN;
    loop {
        sleep(LOOK_MS).await;
        if client.own.get().is_none() {
            continue;
        }
        let now_ms = BrowserClock.now_ms();
        let since_ms = now_ms.saturating_sub(last_ms);
        let due = since_ms < 0 || since_ms >= pause_ms(&client, failures);
        if !(due || client.wake.replace(false)) {
            continue;
        }
        last_ms = now_ms;
        client.device.link.state.update(|link| link.busy = true);
        let done = round(&client).await;
        client.device.link.state.update(|link| {
            link.busy = false;
            link.trouble = done.as_ref().err().map(ToString::to_string);
            if done.is_ok() {
                link.heard_ms = Some(BrowserClock.now_ms());
            }
        });
        failures = if done.is_ok() {
            0
        } else {
            failures.saturating_add(1)
        };
    }
}

fn pause_ms(client: &Client, failures: u32) -> i64 {
    let waiting = client
        .device
        .link
        .state
        .with_untracked(|link| link.waiting > 0);
    let base = if waiting || client.lively.get() {
        EAGER_MS
    } else {
        CALM_MS
    };
    base.saturating_mul(1_i64 << failures.min(4))
        .min(LONGEST_MS.max(base))
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

async fn round(client: &Client) -> Result<(), SyncError> {
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
    push(client, own, &ours, &reply.vector).await?;
    if !diff(&reply.vector, &ours).is_empty() {
        pull(client, vessel).await?;
    }
    log::look(client, vessel).await?;
    Ok(())
}

/// Sends what the ship lacks, and asks for the receipt that an earlier, cut answer did not bring.
async fn push(
    client: &Client,
    own: DeviceId,
    ours: &Vector,
    theirs: &Vector,
) -> Result<(), SyncError> {
    // The ship signs for the asker's chain, and for those of whom a record comes: where the receipt of
    // another chain of this phone was lost, its newest record goes once more.
    let behind: Vec<(DeviceId, u64)> = client
        .own_chains()
        .into_iter()
        .filter_map(|chain| Some((chain, *ours.get(&chain)?)))
        .filter(|(chain, seq)| client.signed_for(*chain) < *seq)
        .collect();
    let again = |envelope: &Envelope| {
        envelope.device() != own && behind.contains(&(envelope.device(), envelope.seq()))
    };
    let lacks: Vec<Envelope> = client.device.records.ledger.with_untracked(|ledger| {
        let Some(ledger) = ledger else {
            return Vec::new();
        };
        ledger
            .entries()
            .map(|entry| entry.record.envelope())
            .filter(|envelope| lacking(theirs, envelope) || again(envelope))
            .cloned()
            .collect()
    });
    let mut pages: Vec<Vec<u8>> = plan_pages(lacks, PageLimits::default())
        .iter()
        .map(record::sync::Page::bytes)
        .collect();
    if pages.is_empty() && behind.iter().any(|(chain, _)| *chain == own) {
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
