//! What the device can say of its own fitness.

use crate::client::Client;
use crate::timer::BrowserClock;
use journal::port::Clock as _;
use journal::{Body, body::TrialBody};
use leptos::prelude::*;
use record::DeviceId;

/// What the trial record says.
const WHAT: &str = "phone check";

/// The note about the newest trial of a key: its sequence number and when it was made.
fn note_of(device: DeviceId) -> String {
    format!("trial/{device}")
}

/// Says whether the page runs as an installed app.
fn is_installed() -> bool {
    let Some(window) = web_sys::window() else {
        return false;
    };
    let matches = ["standalone", "fullscreen", "minimal-ui"]
        .iter()
        .any(|mode| {
            window
                .match_media(&format!("(display-mode: {mode})"))
                .ok()
                .flatten()
                .is_some_and(|query| query.matches())
        });
    // Safari on a phone says it so; by name, for no other browser has it.
    let safari = js_sys::Reflect::get(&window.navigator(), &"standalone".into());
    matches || safari.is_ok_and(|standalone| standalone.is_truthy())
}

impl Client {
    /// Asks the browser, and looks whether the trial came back.
    pub async fn look(&self) {
        let room = store::room().await;
        self.device.identity.fitness.update(|fitness| {
            fitness.is_installed = Some(is_installed());
            fitness.is_persistent = room.persistent;
            fitness.left_bytes = (room.quota > 0.0).then_some(room.quota - room.used);
        });
        self.read_trial().await;
    }

    /// Puts a trial on record; its receipt says that the ship has it.
    pub async fn trial(&self) {
        let body = Body::Trial(TrialBody {
            what: WHAT.to_owned(),
        });
        let Some(id) = self.put(None, body).await else {
            return;
        };
        let seq = self.device.records.ledger.with_untracked(|ledger| {
            let entry = ledger.as_ref()?.entry(id)?;
            Some(entry.record.seq())
        });
        let Some((own, seq)) = self.own.get().zip(seq) else {
            return;
        };
        let note = format!("{seq} {}", BrowserClock.now_ms());
        // If the disk does not take it, the trial is sent once more.
        let _ = self.store.set_note(&note_of(own), &note).await;
        self.read_trial().await;
    }

    async fn read_trial(&self) {
        let Some(own) = self.own.get() else { return };
        let note = self.store.note(&note_of(own)).await.ok().flatten();
        let made = note.as_deref().and_then(|note| {
            let (seq, at_ms) = note.split_once(' ')?;
            Some((own, seq.parse().ok()?, at_ms.parse().ok()?))
        });
        self.tried.set(made);
        self.look_at_trial();
    }

    /// Shows whether the ship's receipt covers the trial.
    pub fn look_at_trial(&self) {
        let made = self
            .tried
            .get()
            .filter(|(device, ..)| Some(*device) == self.own.get());
        let signed_for = self.own.get().map_or(0, |own| self.signed_for(own));
        self.device.identity.fitness.update(|fitness| {
            fitness.trial_ms = made.map(|(_, _, at_ms)| at_ms);
            fitness.is_trial_back = made.is_some_and(|(_, seq, _)| seq <= signed_for);
        });
    }
}
