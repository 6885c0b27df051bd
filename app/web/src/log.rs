//! Holds the ship's server to its log: remembers its heads, has each new one proved, and says what is wrong.
//!
//! What is judged, and how, stands in `record::witness`; here it is fetched and kept.

use crate::client::Client;
use crate::http::{self, HttpError};
use crate::timer::BrowserClock;
use journal::Body;
use journal::address;
use journal::log::{Checked, Finder, Found, Head, HeadAnswer, Showing, Trouble, trouble_of};
use journal::port::{Clock as _, StoreError};
use leptos::prelude::*;
use record::merkle::ConsistencyProof;
use record::witness::{Remembered, Unjudged, Verdict, Witness};
use record::{Checkpoint, CheckpointFault, VesselId, log_origin};

/// The note that holds the heads that are remembered, as JSON.
const NOTE_WITNESS: &str = "log-witness";
/// The note that says what was found out, as JSON.
const NOTE_CHECKED: &str = "log-checked";
/// A server of an earlier version keeps no log.
const NOT_FOUND: u16 = 404;

/// Why the log could not be looked at. Nothing is known against it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LogError {
    /// The ship does not answer, or refuses.
    #[error(transparent)]
    Http(#[from] HttpError),
    /// The head is not rightly signed.
    #[error("the head of the ship's roll is not right: {0}")]
    Checkpoint(#[from] CheckpointFault),
    /// The proof is not there.
    #[error("the head of the ship's roll cannot be judged: {0}")]
    Unjudged(#[from] Unjudged),
    /// An answer cannot be read.
    #[error("the ship's answer about her log cannot be read: {0}")]
    Answer(String),
    /// This device's store.
    #[error(transparent)]
    Store(#[from] StoreError),
}

fn unreadable(error: impl std::fmt::Display) -> LogError {
    LogError::Answer(error.to_string())
}

/// Reads what was found out before.
pub async fn open(client: &Client) -> Result<(), StoreError> {
    if let Some(text) = client.store.note(NOTE_CHECKED).await?
        && let Ok(checked) = journal::json::read::<Checked>(&text)
    {
        client.device.link.log.set(checked);
    }
    Ok(())
}

/// Puts on record that a master has read what is wrong.
pub async fn read(client: &Client, trouble: &Trouble, reason: &str) {
    let body = Body::Finding(trouble.body(reason));
    if client.put(None, body).await.is_none() {
        return;
    }
    if let Err(error) = forget_what_was_read(client).await {
        client.device.records.trouble.set(Some(error.to_string()));
    }
}

/// Looks at the head of the ship's roll; a head that is new is to be proved.
pub async fn look(client: &Client, vessel: VesselId) -> Result<(), LogError> {
    forget_what_was_read(client).await?;
    let rewritten = |trouble: &Trouble| trouble.found == Found::Rewritten;
    let stands = client
        .device
        .link
        .log
        .with_untracked(|log| log.trouble.as_ref().is_some_and(rewritten));
    if stands {
        return Ok(());
    }
    let Some((shown, note)) = fetch(client, vessel).await? else {
        return Ok(());
    };
    let mut checked = client.device.link.log.get_untracked();
    if checked.note == note {
        checked.at_ms = Some(BrowserClock.now_ms());
        // The time alone is not worth a write to the disk.
        client.device.link.log.set(checked);
        return Ok(());
    }
    let mut witness = witness(client).await?;
    let before = witness.newest().cloned();
    let mut seen = (shown, note);
    let mut verdict = judge(vessel, &mut witness, &seen).await?;
    if let (Verdict::Contradicts(_), Some(before)) = (&verdict, &before) {
        // A server that was put back from a backup finds it out by being shown what it signed before.
        show(vessel, before).await?;
        if let Some(again) = fetch(client, vessel).await? {
            seen = again;
            verdict = judge(vessel, &mut witness, &seen).await?;
        }
    }
    let now_ms = BrowserClock.now_ms();
    let remembered = before.as_ref().map(|before| &before.checkpoint);
    if let Some(trouble) = trouble_of(&verdict, remembered, &seen.0, Finder::Device, now_ms) {
        checked.trouble = Some(trouble);
    }
    if !matches!(verdict, Verdict::Contradicts(_)) {
        checked.head = Some(Head::from(&seen.0));
        checked.note = seen.1;
        checked.at_ms = Some(now_ms);
        let text = serde_json::to_string(&witness).map_err(unreadable)?;
        client.store.set_note(NOTE_WITNESS, &text).await?;
    }
    keep(client, checked).await
}

/// Takes what a master has read from the page, and goes on from the head that is shown next.
async fn forget_what_was_read(client: &Client) -> Result<(), LogError> {
    let mut checked = client.device.link.log.get_untracked();
    let Some(trouble) = &checked.trouble else {
        return Ok(());
    };
    let is_read = client.device.records.ledger.with_untracked(|ledger| {
        let ledger = ledger.as_ref();
        ledger.is_some_and(|ledger| trouble.read_in(ledger).is_some())
    });
    if !is_read {
        return Ok(());
    }
    if trouble.found == Found::Rewritten {
        client.store.set_note(NOTE_WITNESS, "").await?;
        checked = Checked::default();
    }
    checked.trouble = None;
    keep(client, checked).await
}

async fn keep(client: &Client, checked: Checked) -> Result<(), LogError> {
    let text = serde_json::to_string(&checked).map_err(unreadable)?;
    client.store.set_note(NOTE_CHECKED, &text).await?;
    client.device.link.log.set(checked);
    Ok(())
}

async fn witness(client: &Client) -> Result<Witness, LogError> {
    let text = client.store.note(NOTE_WITNESS).await?.unwrap_or_default();
    if text.is_empty() {
        return Ok(Witness::default());
    }
    journal::json::read(&text).map_err(unreadable)
}

/// Fetches the signed head and checks its signature; none from a server that keeps no log.
async fn fetch(
    client: &Client,
    vessel: VesselId,
) -> Result<Option<(Checkpoint, String)>, LogError> {
    let authority = client
        .device
        .records
        .ledger
        .with_untracked(|ledger| ledger.as_ref().map(journal::Ledger::authority));
    let Some(authority) = authority else {
        return Ok(None);
    };
    let note = match http::get(address::LOG_HEAD.at([&vessel]).as_str()).await {
        Ok(reply) => reply.text()?,
        Err(HttpError::Refused { status, .. }) if status == NOT_FOUND => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    let origin = log_origin("ship", vessel);
    let checkpoint = Checkpoint::verify(&note, &origin, &authority)?;
    Ok(Some((checkpoint, note)))
}

async fn judge(
    vessel: VesselId,
    witness: &mut Witness,
    (shown, note): &(Checkpoint, String),
) -> Result<Verdict, LogError> {
    let wants = witness.wants(shown);
    let proofs: Vec<ConsistencyProof> = if wants.is_empty() {
        Vec::new()
    } else {
        let from: Vec<String> = wants.iter().map(u64::to_string).collect();
        let (from, to) = (from.join(","), shown.head.size);
        let url = address::LOG_CONSISTENCY.at([&vessel]);
        let url = url.with("from", from).with("to", to);
        let text = http::get(url.as_str()).await?.text()?;
        journal::json::read(&text).map_err(unreadable)?
    };
    Ok(witness.judge(shown, note, &proofs, BrowserClock.now_ms())?)
}

async fn show(vessel: VesselId, remembered: &Remembered) -> Result<HeadAnswer, LogError> {
    let showing = Showing {
        note: remembered.note.clone(),
        proofs: Vec::new(),
    };
    let body = serde_json::to_string(&showing).map_err(unreadable)?;
    let url = address::LOG_SEEN.at([&vessel]);
    let text = http::post_json(url.as_str(), &body).await?.text()?;
    journal::json::read(&text).map_err(unreadable)
}
