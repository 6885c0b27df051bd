//! Enrolment: a key behind a new PIN, proved after the page has loaded again; then a one-time code, and the
//! ship's credential.
//!
//! What is reached is kept in a note, so that an enrolment that was cut off can be taken up again or dropped.

use crate::client::{Client, NOTE_SHIP, authority};
use crate::http;
use crate::timer::BrowserClock;
use journal::address;
use journal::auth_messages::{
    CODE_DIGITS, EnrolAnswer, EnrolRequest, FirstMaster, enrolment_claim,
};
use journal::port::{Clock as _, LocalStore as _, Signer as _, StoreError};
use journal::{Holder, Ledger, Pin};
use leptos::prelude::*;
use record::Envelope;
use serde::{Deserialize, Serialize};
use std::rc::Rc;
use store::{BrowserKey, KeyError};
use ui::port::{PinAttempt, Stage};
use wasm_bindgen::JsValue;

/// The note that says how far an enrolment is.
const NOTE_ENROLMENT: &str = "enrolment";
/// The page that a code's picture leads to.
const PATH: &str = "/bow/enrol";

/// An enrolment that is not finished.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
struct Half {
    /// The new key's chain, once it is made.
    device: String,
    /// The code that came with the address.
    code: String,
}

/// Takes the code out of the address that a picture led to, so that it stays in no history and no picture
/// of the screen.
pub fn code_in_address() -> Option<String> {
    let window = web_sys::window()?;
    let location = window.location();
    if location.pathname().ok()? != PATH {
        return None;
    }
    let code = location.hash().ok()?.trim_start_matches('#').to_owned();
    let is_code = code.len() == CODE_DIGITS && code.bytes().all(|sign| sign.is_ascii_digit());
    if !code.is_empty() {
        let history = window.history().ok()?;
        history
            .replace_state_with_url(&JsValue::NULL, "", Some(PATH))
            .ok()?;
    }
    is_code.then_some(code)
}

/// Asks the ship whose `key` is, by the code that she gave out.
async fn ask(
    key: &BrowserKey,
    code: &str,
    first: Option<&FirstMaster>,
) -> Result<EnrolAnswer, String> {
    let public_key = record::hex::encode(key.public_key().as_bytes());
    // A fixed context, then all that the answer depends on: the device holds the key that it shows.
    let claim = enrolment_claim(code, &public_key);
    let proof = key
        .sign(claim.as_bytes())
        .await
        .map_err(|error| error.to_string())?;
    let question = EnrolRequest {
        code: code.to_owned(),
        person: None,
        public_key,
        protection: key.protection().word().to_owned(),
        proof: record::hex::encode(&proof),
        first: first.cloned(),
    };
    let body = serde_json::to_string(&question).map_err(|error| error.to_string())?;
    let reply = http::post_openly(address::ENROL.path(), &body)
        .await
        .map_err(|error| error.to_string())?;
    let text = reply.text().map_err(|error| error.to_string())?;
    journal::json::read(&text).map_err(|error| format!("the ship's answer cannot be read: {error}"))
}

impl Client {
    /// Shows how far an enrolment is, with the code that came with the address.
    pub async fn look_up_enrolment(&self, came: Option<String>) -> Result<(), StoreError> {
        let mut half = self.half().await?;
        let holder = self.holder_of(&half.device);
        if !half.device.is_empty() && holder.as_ref().is_none_or(|holder| !holder.is_half()) {
            half.device = String::new(); // finished in another tab, or dropped
        }
        if let Some(code) = came {
            half.code = code;
            self.keep_half(&half).await?;
        }
        self.show_half(
            &half,
            if half.device.is_empty() {
                Stage::Choose
            } else {
                Stage::Prove
            },
        );
        Ok(())
    }

    async fn half(&self) -> Result<Half, StoreError> {
        let text = self.store.note(NOTE_ENROLMENT).await?;
        Ok(text
            .and_then(|text| journal::json::read(&text).ok())
            .unwrap_or_default())
    }

    async fn keep_half(&self, half: &Half) -> Result<(), StoreError> {
        let text =
            serde_json::to_string(half).map_err(|error| StoreError::Failed(error.to_string()))?;
        self.store.set_note(NOTE_ENROLMENT, &text).await
    }

    fn show_half(&self, half: &Half, stage: Stage) {
        let now_ms = BrowserClock.now_ms();
        let until_ms = self
            .holder_of(&half.device)
            .map_or(0, |holder| holder.tries.until_ms(now_ms));
        self.device.identity.enrolment.update(|enrolment| {
            enrolment.stage = stage;
            enrolment.code.clone_from(&half.code);
            enrolment.until_ms = until_ms;
            enrolment.is_secure =
                web_sys::window().is_some_and(|window| window.is_secure_context());
        });
    }

    fn holder_of(&self, device: &str) -> Option<Holder> {
        self.holders
            .borrow()
            .iter()
            .find(|one| one.device == device)
            .cloned()
    }

    fn tried(&self, done: Result<(), String>) {
        let trying = done.err().map_or(PinAttempt::Idle, PinAttempt::Failed);
        self.device.identity.attempt.set(trying);
    }

    /// Makes a key behind a PIN and loads the page again.
    pub async fn choose_pin(&self, pin: Pin) {
        self.device.identity.attempt.set(PinAttempt::Working);
        let made = async {
            let mut half = self.half().await.map_err(|error| error.to_string())?;
            let holder = self
                .store
                .make_key(&pin)
                .await
                .map_err(|error| error.to_string())?;
            half.device = holder.device;
            self.keep_half(&half)
                .await
                .map_err(|error| error.to_string())
        };
        let made = made.await;
        if made.is_ok()
            && let Some(window) = web_sys::window()
        {
            // Nothing that this page holds can help the key over this.
            let _ = window.location().reload();
            return;
        }
        self.tried(made);
    }

    /// Opens the key that was made before the page loaded.
    pub async fn prove_pin(&self, pin: Pin) {
        let keys = self.device.identity;
        keys.attempt.set(PinAttempt::Working);
        let Ok(half) = self.half().await else {
            return self.tried(Err("the phone's storage cannot be read".to_owned()));
        };
        let now_ms = BrowserClock.now_ms();
        let opened = self.store.open_key(&half.device, &pin, now_ms).await;
        // What it costs the next try is on disk, whatever came of this one.
        if let Err(error) = self.read_holders().await {
            return self.tried(Err(error.to_string()));
        }
        match opened {
            Ok(key) => {
                *self.new_key.borrow_mut() = Some(Rc::new(key));
                keys.attempt.set(PinAttempt::Idle);
                self.show_half(&half, Stage::Ask);
            }
            Err(KeyError::WrongPin) => {
                keys.attempt.set(PinAttempt::Wrong);
                self.show_half(&half, Stage::Prove);
            }
            Err(KeyError::TooEarly { .. }) => {
                keys.attempt.set(PinAttempt::Idle);
                self.show_half(&half, Stage::Prove);
            }
            Err(error) => self.tried(Err(error.to_string())),
        }
    }

    /// Takes the half-finished enrolment away, and its key, which nobody vouches for.
    pub async fn drop_enrolment(&self) {
        let dropped = async {
            let half = self.half().await?;
            if let Some(holder) = self.holder_of(&half.device)
                && holder.is_half()
            {
                self.store.retire_key(&holder).await?;
            }
            *self.new_key.borrow_mut() = None;
            self.read_holders().await?;
            let half = Half {
                device: String::new(),
                ..half
            };
            self.keep_half(&half).await?;
            self.show_half(&half, Stage::Choose);
            Ok::<(), StoreError>(())
        };
        let dropped = dropped.await.map_err(|error| error.to_string());
        self.tried(dropped);
    }

    /// Has the ship say whose the new key is, and keeps what she answered.
    pub async fn enrol(&self, code: &str, first: Option<&FirstMaster>) {
        self.device.identity.attempt.set(PinAttempt::Working);
        let done = self.enrolled(code, first).await;
        self.tried(done);
    }

    async fn enrolled(&self, code: &str, first: Option<&FirstMaster>) -> Result<(), String> {
        let said = |error: StoreError| error.to_string();
        let key = self
            .new_key
            .borrow()
            .clone()
            .ok_or("the new key is not open: type its PIN again")?;
        let answer = ask(&key, code, first).await?;
        let authority = authority(&answer.ship).ok_or("the ship's key cannot be read")?;
        let text = serde_json::to_string(&answer.ship).map_err(|error| error.to_string())?;
        let mut ledger = Ledger::new(authority);
        let mut kept = Vec::new();
        for hex in &answer.records {
            let bytes = record::hex::decode(hex).ok_or("the ship's answer is not hex")?;
            let envelope = Envelope::decode(&bytes).map_err(|refusal| refusal.to_string())?;
            kept.push((envelope.device(), envelope.seq(), bytes));
            ledger
                .admit(envelope)
                .map_err(|refusal| refusal.to_string())?;
        }
        self.store.keep(&kept).await.map_err(said)?;
        self.store.set_note(NOTE_SHIP, &text).await.map_err(said)?;
        let name = key.id().to_string();
        let holder = self
            .store
            .change_holder(&name, |holder| holder.person.clone_from(&answer.person))
            .await
            .map_err(said)?;
        self.store.drop_note(NOTE_ENROLMENT).await.map_err(said)?;
        self.read_into(&mut ledger).await.map_err(said)?;
        self.begin_rows(ledger.vessel()).await.map_err(said)?;
        self.device.records.ledger.set(Some(ledger));
        self.read_holders().await.map_err(said)?;
        self.take_over(&holder, key).await.map_err(said)?;
        *self.new_key.borrow_mut() = None;
        self.show_half(&Half::default(), Stage::Done);
        self.keep_sun();
        self.wake.set(true);
        Ok(())
    }
}
