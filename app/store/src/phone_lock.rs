//! The phone's own lock as a second one beside the PIN, for whoever asks for it.
//!
//! A passkey of the phone gives a secret of 32 bytes for a salt (WebAuthn's `prf` extension), after the phone has asked
//! for a finger, a face or its own code. The secret is stored nowhere; joined to what the PIN gives, it makes the key
//! that wraps ([`crate::locked`]). Beside the wrapped key lie the passkey's name, the salt, and a digest by which
//! another secret is known before a try of the PIN is counted. Of 32 random bytes a digest tells nothing.
//!
//! The browser is spoken to by `public/boot.js`. No server takes part.

use crate::crypto::{browser, bytes, done_bytes, object, random, subtle};
use crate::database::BrowserStore;
use crate::key::KeyError;
use journal::Pin;
use js_sys::{Array, Function, Promise, Reflect, Uint8Array};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;

/// What the digest of a secret begins with.
const CHECK: &[u8] = b"clearhawse v1 phone's secret";

/// What the phone gave, wiped when it is not needed any more.
pub(crate) struct Secret(Vec<u8>);

impl Secret {
    fn of(given: &JsValue) -> Self {
        let given = Uint8Array::new(given);
        let secret = Self(given.to_vec());
        given.fill(0, 0, given.length());
        secret
    }

    pub(crate) fn bytes(&self) -> &[u8] {
        &self.0
    }

    async fn check(&self) -> Result<Vec<u8>, KeyError> {
        let mut said = [CHECK, &self.0].concat();
        let digest = subtle()?.digest_with_str_and_u8_array("SHA-256", &said);
        let check = done_bytes(digest).await;
        said.fill(0);
        std::hint::black_box(&said);
        check
    }
}

impl Drop for Secret {
    fn drop(&mut self) {
        self.0.fill(0);
        std::hint::black_box(&self.0);
    }
}

/// What is kept of the phone's lock beside a wrapped key.
pub(crate) struct PhoneLock {
    id: Vec<u8>,
    salt: Vec<u8>,
    check: Vec<u8>,
}

/// Has `public/boot.js` speak to the browser.
async fn call(what: &str, arguments: &[JsValue]) -> Result<JsValue, KeyError> {
    let cannot = |_| KeyError::PhoneCannot;
    let lock = Reflect::get(&js_sys::global(), &"clearhawseLock".into()).map_err(cannot)?;
    let function = Reflect::get(&lock, &what.into()).map_err(cannot)?;
    let function: Function = function.dyn_into().map_err(cannot)?;
    let arguments: Array = arguments.iter().collect();
    let promise = function.apply(&lock, &arguments).map_err(browser)?;
    JsFuture::from(Promise::resolve(&promise))
        .await
        .map_err(|error| {
            let name = Reflect::get(&error, &"name".into()).unwrap_or_default();
            match name.as_string().as_deref() {
                Some("NotAllowedError" | "AbortError") => KeyError::PhoneRefused,
                _ => KeyError::PhoneCannot,
            }
        })
}

fn array(bytes: &[u8]) -> JsValue {
    Uint8Array::from(bytes).into()
}

/// Says whether this phone and browser, at this address, may have a lock that a key can be locked to.
pub async fn can_lock_to_phone() -> bool {
    call("isThere", &[])
        .await
        .is_ok_and(|is_there| is_there.is_truthy())
}

impl PhoneLock {
    /// Reads what lies beside a wrapped key; none where its PIN alone opens it.
    pub(crate) fn of(value: &JsValue) -> Result<Option<Self>, KeyError> {
        let kept = Reflect::get(value, &"phone".into()).map_err(browser)?;
        if kept.is_undefined() {
            return Ok(None);
        }
        Ok(Some(Self {
            id: bytes(&kept, "id")?,
            salt: bytes(&kept, "salt")?,
            check: bytes(&kept, "check")?,
        }))
    }

    /// Writes it beside a wrapped key.
    pub(crate) fn keep_beside(&self, value: &JsValue) -> Result<(), KeyError> {
        let kept = object(&[
            ("id", &array(&self.id)),
            ("salt", &array(&self.salt)),
            ("check", &array(&self.check)),
        ])?;
        Reflect::set(value, &"phone".into(), &kept).map_err(browser)?;
        Ok(())
    }

    /// Makes a passkey that bears the name, and opens it once.
    async fn make(name: &str) -> Result<(Self, Secret), KeyError> {
        let salt = random::<32>()?.to_vec();
        let made = call("make", &[name.into(), array(&salt)]).await?;
        let part = |name: &str| Reflect::get(&made, &name.into()).map_err(browser);
        let id = Uint8Array::new(&part("id")?).to_vec();
        let secret = Secret::of(&part("secret")?);
        let check = secret.check().await?;
        Ok((Self { id, salt, check }, secret))
    }

    /// Has the phone open its lock, where there is one.
    pub(crate) async fn ask(lock: Option<&Self>) -> Result<Option<Secret>, KeyError> {
        let Some(lock) = lock else { return Ok(None) };
        let given = call("secret", &[array(&lock.id), array(&lock.salt)]).await?;
        let secret = Secret::of(&given);
        if secret.check().await? != lock.check {
            return Err(KeyError::PhoneOther);
        }
        Ok(Some(secret))
    }
}

impl BrowserStore {
    /// Locks a key to the phone too. The phone is asked when the PIN is known to be right, so that a wrong one makes no
    /// passkey; `name` is what the phone calls it.
    ///
    /// # Errors
    /// As [`BrowserStore::open_key`].
    pub async fn lock_to_phone(
        &self,
        device: &str,
        pin: &Pin,
        name: &str,
        now_ms: i64,
    ) -> Result<(), KeyError> {
        let value = self.key_object(device).await?.ok_or(KeyError::Gone)?;
        if PhoneLock::of(&value)?.is_some() {
            return Ok(()); // another tab was first
        }
        let peeled = self.tried_peel(device, &value, pin, None, now_ms).await?;
        self.open_peeled(device, &peeled, pin, false).await?;
        let (lock, secret) = PhoneLock::make(name).await?;
        // If the disk does not take it, the passkey stays and opens nothing: whether it did is not known for certain.
        self.wrap_again(device, &peeled, pin, Some((&lock, &secret)))
            .await
    }

    /// Takes the phone's lock off a key again; it takes both to do it.
    ///
    /// # Errors
    /// As [`BrowserStore::open_key`].
    pub async fn take_phone_lock_off(
        &self,
        device: &str,
        pin: &Pin,
        now_ms: i64,
    ) -> Result<(), KeyError> {
        let value = self.key_object(device).await?.ok_or(KeyError::Gone)?;
        let Some(lock) = PhoneLock::of(&value)? else {
            return Ok(());
        };
        let secret = PhoneLock::ask(Some(&lock)).await?;
        let peeled = self
            .tried_peel(device, &value, pin, secret.as_ref(), now_ms)
            .await?;
        self.wrap_again(device, &peeled, pin, None).await?;
        // A phone that does not forget its passkey keeps one that opens nothing.
        let _ = call("forget", &[array(&lock.id)]).await;
        Ok(())
    }
}
