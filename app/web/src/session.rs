//! Signing in to the ship: the device's key answers the ship's challenge, and the browser keeps the cookie.
//!
//! Nobody asks for it: a request that the ship answers with 'who are you' signs in and is made once more.
//! While the key is locked away nobody can be signed in, and what is read and signed here stays here.

use crate::client::Client;
use crate::http::{self, HttpError};
use crate::timer::sleep;
use futures::FutureExt as _;
use futures::future::{LocalBoxFuture, Shared};
use journal::address;
use journal::auth_messages::{Challenge, ChallengeAnswer, act_claim, session_claim};
use journal::port::Signer as _;
use leptos::prelude::*;
use std::cell::RefCell;
use std::rc::{Rc, Weak};
use store::BrowserKey;
use ui::port::DeviceState;

/// A sign-in under way, which all who wait for it share.
type Opening = Shared<LocalBoxFuture<'static, Result<(), HttpError>>>;

/// Between looks whether the store is open, ms.
const LOOK_MS: i32 = 50;

thread_local! {
    static CLIENT: RefCell<Weak<Client>> = const { RefCell::new(Weak::new()) };
    static OPENING: RefCell<Option<Opening>> = const { RefCell::new(None) };
}

/// Says whose key signs in, for as long as the page lives.
pub fn follow(client: &Rc<Client>) {
    CLIENT.with_borrow_mut(|slot| *slot = Rc::downgrade(client));
}

/// Signs in; several who ask at once share one sign-in.
///
/// # Errors
/// [`HttpError`] if the ship does not answer or refuses, or no key is at hand.
pub async fn open() -> Result<(), HttpError> {
    let opening = OPENING.with_borrow_mut(|slot| {
        slot.get_or_insert_with(|| sign_in().boxed_local().shared())
            .clone()
    });
    let done = opening.await;
    OPENING.with_borrow_mut(|slot| *slot = None);
    done
}

/// Takes up the withdrawal of the key of whoever has the phone: from now on it signs nothing. What does not bear the
/// ship's own signature is left aside, as anybody can answer in her place.
pub async fn take_withdrawal(shown: &str) {
    let Some(client) = CLIENT.with_borrow(Weak::upgrade) else {
        return;
    };
    let (Some(own), Some(shown)) = (client.own.get(), record::hex::decode(shown)) else {
        return;
    };
    let withdrawal = client.device.records.ledger.with_untracked(|ledger| {
        let authority = ledger.as_ref()?.authority();
        journal::shown_withdrawal(&authority, own, &shown)
    });
    if let Some(withdrawal) = withdrawal {
        client.withdraw(own, withdrawal).await;
    }
}

fn nobody() -> HttpError {
    HttpError::Refused {
        status: 401,
        message: "this device has not shown who it is: enrol it, or unlock it".to_owned(),
    }
}

/// Returns the key, once the store is open: a page asks for what it shows before that.
async fn key_at_hand() -> Result<(Rc<Client>, Rc<BrowserKey>), HttpError> {
    loop {
        if let Some(client) = CLIENT.with_borrow(Weak::upgrade) {
            let state = client.device.identity.state.get_untracked();
            if !matches!(state, DeviceState::Opening) {
                let key = client.key.borrow().clone().ok_or_else(nobody)?;
                return Ok((client, key));
            }
        }
        sleep(LOOK_MS).await;
    }
}

/// Sends a change that the key itself has to sign: where it is put away, its PIN is asked for first, and nothing is
/// sent where it is not typed.
///
/// # Errors
/// [`HttpError`] if the ship does not answer or refuses, or the key was not opened.
pub async fn post_as_act(path: &str, body: &str) -> Result<http::Reply, HttpError> {
    let client = CLIENT.with_borrow(Weak::upgrade).ok_or_else(nobody)?;
    let key = client.opened_key().await.ok_or_else(nobody)?;
    let server = authority_of(&client).ok_or_else(nobody)?;
    let asked = http::post_json(address::ACT_CHALLENGE.path(), "{}").await?;
    let asked: Challenge =
        journal::json::read(&asked.text()?).map_err(|_| HttpError::NotTheShip)?;
    let claim = act_claim(&server, &asked.challenge, "POST", path, body.as_bytes());
    let signature = signed(&key, &claim).await?;
    let act = http::Signature {
        challenge: asked.challenge,
        signature,
    };
    http::post_signed(path, body, &act).await
}

/// Returns the key that this device was told at its enrolment, not the one that answers now: a server that
/// only stands in for the ship gets an answer that it cannot pass on.
fn authority_of(client: &Client) -> Option<String> {
    let authority = client
        .device
        .records
        .ledger
        .with_untracked(|ledger| ledger.as_ref().map(journal::Ledger::authority))?;
    Some(record::hex::encode(authority.as_bytes()))
}

async fn signed(key: &BrowserKey, claim: &str) -> Result<String, HttpError> {
    let signature = key.sign(claim.as_bytes()).await;
    let signature = signature.map_err(|error| HttpError::Refused {
        status: 401,
        message: error.to_string(),
    })?;
    Ok(record::hex::encode(&signature))
}

async fn sign_in() -> Result<(), HttpError> {
    let (client, key) = key_at_hand().await?;
    let server = authority_of(&client).ok_or_else(nobody)?;
    let asked = http::post_openly(address::CHALLENGE.path(), "{}").await?;
    let asked: Challenge =
        journal::json::read(&asked.text()?).map_err(|_| HttpError::NotTheShip)?;
    let origin = web_sys::window()
        .and_then(|window| window.location().origin().ok())
        .ok_or(HttpError::NotTheShip)?;
    let claim = session_claim(&origin, &server, &asked.challenge);
    let signature = signed(&key, &claim).await?;
    let reply = ChallengeAnswer {
        device: key.id(),
        challenge: asked.challenge,
        origin,
        signature,
    };
    let reply = serde_json::to_string(&reply).map_err(|_| HttpError::NotTheShip)?;
    http::post_openly(address::SIGN_IN.path(), &reply)
        .await
        .map(drop)
}
