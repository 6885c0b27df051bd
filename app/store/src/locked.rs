//! A person's key while nobody uses it: wrapped under that person's PIN and under a key of the device.
//!
//! # How
//!
//! ```text
//! bits     = Argon2id(PIN, salt), in turns                    journal::pin, figures stored beside it
//! W        = HKDF-SHA-256(bits, salt, "… person's key")       an AES-256-GCM key, not extractable
//! inner    = AES-GCM under W of the private key (PKCS #8), made by WebCrypto's `wrapKey`
//! stored   = AES-GCM under D of inner                         D: the device's own key, not extractable
//! ```
//!
//! Both layers are bound to the public key. The private key is generated extractable, wrapped at once by
//! the browser itself, and forgotten: its plain bytes never come into this program. To use it, the browser
//! unwraps it as a key that cannot be exported. A software key's seed (a browser without Ed25519) goes the
//! same way, and does come into the program's memory while it is in use.
//!
//! # Why two layers and not one key of both
//!
//! D can encrypt but cannot be read, so nothing can be derived from it together with the PIN; encryption
//! under it, around what the PIN encrypts, needs both just as well. A page, an extension or a bad backup
//! that can read what is stored but not call D learns nothing about the PIN, not even whether a guess is
//! right. D outermost also hides the PIN's layer from whoever holds a copy without D.
//!
//! # What it does not do
//!
//! A browser keeps D's bytes in the same profile on the same disk. Whoever copies the whole profile has D
//! and can try PINs without any delay, each for the price of the stretching.

use crate::crypto::{
    aes, breathe, bytes, derive_aes, done, done_bytes, make_aes, member, object, random, subtle,
    text, usages,
};
use crate::database::{BrowserStore, commit};
use crate::key::{BrowserKey, Inner, KeyError, Protection, make_pair, public_key, soft_key};
use crate::schema::{KEYS, PEOPLE};
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{TransactionDurability, TransactionMode, TransactionOptions};
use journal::pin::{Pin, Stretch, StretchError};
use journal::{Holder, Tries};
use js_sys::Uint8Array;
use record::SoftKey;
use std::cell::Cell;
use wasm_bindgen::{JsCast, JsValue};
use web_sys::CryptoKey;

/// The name of the device's own key among the keys.
const DEVICE: &str = "device";
/// What the wrapping key is for.
const INFO: &[u8] = b"clearhawse v1 person's key";

impl From<StretchError> for KeyError {
    fn from(error: StretchError) -> Self {
        Self::Browser(error.to_string())
    }
}

/// Stretches a PIN; the page can draw between two turns.
async fn stretch(pin: &Pin, figures: Stretch, salt: &[u8]) -> Result<CryptoKey, KeyError> {
    let mut stretching = figures.begin(pin, salt)?;
    loop {
        breathe().await;
        if let Some(mut bits) = stretching.turn()? {
            let key = derive_aes(&bits, salt, INFO).await;
            bits.fill(0);
            std::hint::black_box(&bits);
            return key;
        }
    }
}

/// What both layers are bound to.
fn bound(kind: Protection, public: &[u8]) -> Vec<u8> {
    [b"clearhawse v1 ", kind.word().as_bytes(), b" ", public].concat()
}

/// A private key under the PIN's layer.
struct Wrapped {
    kind: Protection,
    public: Vec<u8>,
    iv: [u8; 12],
    inner: Vec<u8>,
}

async fn wrap_webcrypto(wrapping: &CryptoKey) -> Result<Wrapped, KeyError> {
    let (private, public) = make_pair().await?;
    let iv = random::<12>()?;
    let algorithm = aes(&iv, Some(&bound(Protection::WebCrypto, &public)))?;
    let inner =
        done_bytes(subtle()?.wrap_key_with_object("pkcs8", &private, wrapping, &algorithm)).await?;
    Ok(Wrapped {
        kind: Protection::WebCrypto,
        public,
        iv,
        inner,
    })
}

async fn wrap_software(wrapping: &CryptoKey) -> Result<Wrapped, KeyError> {
    let mut seed = random::<32>()?;
    let public = SoftKey::from_seed(seed).public().as_bytes().to_vec();
    let iv = random::<12>()?;
    let algorithm = aes(&iv, Some(&bound(Protection::Software, &public)))?;
    let sealed =
        done_bytes(subtle()?.encrypt_with_object_and_u8_array(&algorithm, wrapping, &seed));
    let inner = sealed.await;
    seed.fill(0);
    std::hint::black_box(&seed);
    Ok(Wrapped {
        kind: Protection::Software,
        public,
        iv,
        inner: inner?,
    })
}

async fn unwrap(
    kind: Protection,
    inner: &[u8],
    wrapping: &CryptoKey,
    algorithm: &js_sys::Object,
) -> Result<Inner, KeyError> {
    let subtle = subtle()?;
    // Nothing else than a wrong key makes this fail: the layer around it has just been checked.
    let wrong = |_| KeyError::WrongPin;
    match kind {
        Protection::WebCrypto => {
            let opened = subtle.unwrap_key_with_u8_array_and_object_and_str(
                "pkcs8",
                inner,
                wrapping,
                algorithm,
                "Ed25519",
                false,
                &usages(&["sign"]),
            );
            let key = done(opened).await.map_err(wrong)?;
            Ok(Inner::WebCrypto(key.unchecked_into()))
        }
        Protection::Software => {
            let opened = subtle.decrypt_with_object_and_u8_array(algorithm, wrapping, inner);
            let seed = done_bytes(opened).await.map_err(wrong)?;
            Ok(Inner::Software(soft_key(seed)?))
        }
    }
}

/// Wraps what a PIN wrapped under another. The private key goes from layer to layer inside the browser.
async fn wrap_anew(peeled: &Peeled, wrapping: &CryptoKey) -> Result<Wrapped, KeyError> {
    let bound = bound(peeled.kind, &peeled.public);
    let before = aes(&peeled.iv, Some(&bound))?;
    let iv = random::<12>()?;
    let algorithm = aes(&iv, Some(&bound))?;
    let subtle = subtle()?;
    let wrong = |_| KeyError::WrongPin;
    let inner = match peeled.kind {
        Protection::WebCrypto => {
            let opened = subtle.unwrap_key_with_u8_array_and_object_and_str(
                "pkcs8",
                &peeled.inner,
                &peeled.wrapping,
                &before,
                "Ed25519",
                true,
                &usages(&["sign"]),
            );
            let key: CryptoKey = done(opened).await.map_err(wrong)?.unchecked_into();
            done_bytes(subtle.wrap_key_with_object("pkcs8", &key, wrapping, &algorithm)).await?
        }
        Protection::Software => {
            let opened =
                subtle.decrypt_with_object_and_u8_array(&before, &peeled.wrapping, &peeled.inner);
            let mut seed = done_bytes(opened).await.map_err(wrong)?;
            let sealed = subtle.encrypt_with_object_and_u8_array(&algorithm, wrapping, &seed);
            let sealed = done_bytes(sealed).await;
            seed.fill(0);
            std::hint::black_box(&seed);
            sealed?
        }
    };
    Ok(Wrapped {
        kind: peeled.kind,
        public: peeled.public.clone(),
        iv,
        inner,
    })
}

/// A key whose outer layer is off, with what opens the inner one.
struct Peeled {
    kind: Protection,
    public: Vec<u8>,
    iv: Vec<u8>,
    inner: Vec<u8>,
    wrapping: CryptoKey,
}

/// Takes the outer layer off, and stretches the PIN for the inner one.
async fn peel(value: &JsValue, device: &CryptoKey, pin: &Pin) -> Result<Peeled, KeyError> {
    let public = bytes(value, "public")?;
    let kind = match text(value, "form")?.as_str() {
        "webcrypto" => Protection::WebCrypto,
        _ => Protection::Software,
    };
    let bound = bound(kind, &public);
    let outer = aes(&bytes(value, "outerIv")?, Some(&bound))?;
    let inner = done_bytes(subtle()?.decrypt_with_object_and_u8_array(
        &outer,
        device,
        &bytes(value, "wrapped")?,
    ))
    .await?;
    let figures: Stretch = serde_json::from_str(&text(value, "stretch")?)
        .map_err(|error| KeyError::Browser(format!("the stored key's figures: {error}")))?;
    let wrapping = stretch(pin, figures, &bytes(value, "salt")?).await?;
    Ok(Peeled {
        kind,
        public,
        iv: bytes(value, "innerIv")?,
        inner,
        wrapping,
    })
}

/// Takes both layers off and tries the key.
async fn unlock(value: &JsValue, device: &CryptoKey, pin: &Pin) -> Result<BrowserKey, KeyError> {
    let peeled = peel(value, device, pin).await?;
    let bound = bound(peeled.kind, &peeled.public);
    let algorithm = aes(&peeled.iv, Some(&bound))?;
    let inner = unwrap(peeled.kind, &peeled.inner, &peeled.wrapping, &algorithm).await?;
    BrowserKey::new(inner, public_key(&peeled.public)?)
        .tried()
        .await
}

/// Puts the outer layer around what the inner one wraps, once this browser has opened it again.
async fn sealed(
    device: &CryptoKey,
    salt: &[u8],
    wrapped: &Wrapped,
    wrapping: &CryptoKey,
) -> Result<JsValue, KeyError> {
    let bound = bound(wrapped.kind, &wrapped.public);
    let algorithm = aes(&wrapped.iv, Some(&bound))?;
    let inner = unwrap(wrapped.kind, &wrapped.inner, wrapping, &algorithm).await?;
    BrowserKey::new(inner, public_key(&wrapped.public)?)
        .tried()
        .await?;
    let outer_iv = random::<12>()?;
    let outer = done_bytes(subtle()?.encrypt_with_object_and_u8_array(
        &aes(&outer_iv, Some(&bound))?,
        device,
        &wrapped.inner,
    ))
    .await?;
    let figures = serde_json::to_string(&Stretch::NOW)
        .map_err(|error| KeyError::Browser(error.to_string()))?;
    let array = |bytes: &[u8]| -> JsValue { Uint8Array::from(bytes).into() };
    object(&[
        ("kind", &"pin".into()),
        ("form", &wrapped.kind.word().into()),
        ("public", &array(&wrapped.public)),
        ("stretch", &figures.into()),
        ("salt", &array(salt)),
        ("innerIv", &array(&wrapped.iv)),
        ("outerIv", &array(&outer_iv)),
        ("wrapped", &array(&outer)),
    ])
}

impl BrowserStore {
    /// Returns the device's own key, made on first use.
    async fn device_key(&self) -> Result<CryptoKey, KeyError> {
        let kept = self.key_object(DEVICE).await?;
        if let Some(kept) = kept {
            return member(&kept, "key");
        }
        let made = make_aes().await?;
        let made = object(&[("kind", &"device".into()), ("key", &made)])?;
        self.with(async |database| {
            let transaction = database
                .transaction(KEYS)
                .with_mode(TransactionMode::Readwrite)
                .with_options(
                    TransactionOptions::new().with_durability(TransactionDurability::Strict),
                )
                .build()?;
            let store = transaction.object_store(KEYS)?;
            // Another tab may have been first.
            let there = store.get::<JsValue, _, _>(DEVICE).primitive()?.await?;
            if there.is_none_or(|there| there.is_undefined()) {
                store
                    .put(made.clone())
                    .with_key(DEVICE)
                    .primitive()?
                    .await?;
            }
            commit(transaction).await
        })
        .await?;
        let kept = self.key_object(DEVICE).await?.ok_or(KeyError::Gone)?;
        member(&kept, "key")
    }

    /// Makes a key for somebody, wraps it under `pin` and the device's key, and puts it on disk; whose it
    /// is, the ship has yet to say.
    ///
    /// # Errors
    /// [`KeyError`] if no kind of key can be made, wrapped, stored, opened again and used.
    pub async fn make_key(&self, pin: &Pin) -> Result<Holder, KeyError> {
        let device = self.device_key().await?;
        let salt = random::<16>()?;
        let wrapping = stretch(pin, Stretch::NOW, &salt).await?;
        let in_browser = async {
            let wrapped = wrap_webcrypto(&wrapping).await?;
            let value = sealed(&device, &salt, &wrapped, &wrapping).await?;
            Ok::<_, KeyError>((wrapped, value))
        };
        let (wrapped, value) = if let Ok(made) = in_browser.await {
            made
        } else {
            let wrapped = wrap_software(&wrapping).await?;
            let value = sealed(&device, &salt, &wrapped, &wrapping).await?;
            (wrapped, value)
        };
        let holder = Holder {
            device: public_key(&wrapped.public)?.device().to_string(),
            has_pin: true,
            has_long_pin: Some(pin.is_long()),
            protection: wrapped.kind.word().to_owned(),
            ..Holder::default()
        };
        self.put_key(&value, &holder).await?;
        Ok(holder)
    }

    /// Wraps the key of a chain under another PIN. The try of the old one is on disk before it is made; what was
    /// there is replaced only by what this browser has opened.
    ///
    /// # Errors
    /// As [`BrowserStore::open_key`].
    pub async fn change_pin(
        &self,
        device: &str,
        old: &Pin,
        new: &Pin,
        now_ms: i64,
    ) -> Result<(), KeyError> {
        let value = self.key_object(device).await?.ok_or(KeyError::Gone)?;
        let own = self.key_object(DEVICE).await?.ok_or(KeyError::Gone)?;
        let own: CryptoKey = member(&own, "key")?;
        self.count_try(device, now_ms).await?;
        let peeled = peel(&value, &own, old).await?;
        let salt = random::<16>()?;
        let wrapping = stretch(new, Stretch::NOW, &salt).await?;
        let wrapped = wrap_anew(&peeled, &wrapping).await?;
        let value = sealed(&own, &salt, &wrapped, &wrapping).await?;
        let holder = self
            .change_holder(device, |holder| holder.tries = Tries::default())
            .await?;
        let holder = Holder {
            has_long_pin: Some(new.is_long()),
            ..holder
        };
        self.put_key(&value, &holder).await
    }

    /// Puts a key and its row on disk, in one transaction.
    async fn put_key(&self, value: &JsValue, holder: &Holder) -> Result<(), KeyError> {
        let row = crate::people::written(holder);
        self.with(async |database| {
            let transaction = database
                .transaction([KEYS, PEOPLE])
                .with_mode(TransactionMode::Readwrite)
                .with_options(
                    TransactionOptions::new().with_durability(TransactionDurability::Strict),
                )
                .build()?;
            let keys = transaction.object_store(KEYS)?;
            keys.put(value.clone())
                .with_key(holder.device.as_str())
                .primitive()?
                .await?;
            let people = transaction.object_store(PEOPLE)?;
            people
                .put(row.as_str())
                .with_key(holder.device.as_str())
                .primitive()?
                .await?;
            commit(transaction).await
        })
        .await?;
        Ok(())
    }

    /// Opens the key of a chain with a PIN. The try is on disk before it is made.
    ///
    /// # Errors
    /// [`KeyError::TooEarly`] after too many wrong tries, [`KeyError::WrongPin`], or what the browser or
    /// the store did not do.
    pub async fn open_key(
        &self,
        device: &str,
        pin: &Pin,
        now_ms: i64,
    ) -> Result<BrowserKey, KeyError> {
        let value = self.key_object(device).await?.ok_or(KeyError::Gone)?;
        let own = self.key_object(DEVICE).await?.ok_or(KeyError::Gone)?;
        self.count_try(device, now_ms).await?;
        let key = unlock(&value, &member(&own, "key")?, pin).await?;
        self.change_holder(device, |holder| {
            holder.tries = Tries::default();
            holder.has_long_pin = Some(pin.is_long());
        })
        .await?;
        Ok(key)
    }

    async fn count_try(&self, device: &str, now_ms: i64) -> Result<(), KeyError> {
        let wait_ms = Cell::new(0);
        self.change_holder(device, |holder| match holder.tries.count(now_ms) {
            Ok(counted) => holder.tries = counted,
            Err(kept) => {
                wait_ms.set(kept.wait_ms(now_ms));
                holder.tries = kept;
            }
        })
        .await?;
        if wait_ms.get() > 0 {
            return Err(KeyError::TooEarly {
                wait_ms: wait_ms.get(),
            });
        }
        Ok(())
    }
}
