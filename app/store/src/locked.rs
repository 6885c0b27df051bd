//! A person's key while nobody uses it: wrapped under that person's PIN and under a key of the device.
//!
//! # How
//!
//! ```text
//! bits     = Argon2id(PIN, salt), in turns                    journal::pin, figures stored beside it
//! W        = HKDF-SHA-256(bits, salt, "… person's key")       an AES-256-GCM key, not extractable
//!            HKDF-SHA-256(bits ‖ secret, salt, "… and phone") with the phone's own lock, `crate::phone_lock`
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
//! and can try PINs without any delay, each for the price of the stretching; unless the key is locked to
//! the phone too.

use crate::crypto::{
    aes, breathe, bytes, derive_aes, done, done_bytes, member, object, random, subtle, text, usages,
};
use crate::database::{BrowserStore, commit};
use crate::key::{
    BrowserKey, DEVICE, Inner, KeyError, Protection, make_pair, public_key, soft_key,
};
use crate::phone_lock::{PhoneLock, Secret};
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

/// What the wrapping key is for.
const INFO: &[u8] = b"clearhawse v1 person's key";
/// The same, where it takes the phone's secret too.
const INFO_WITH_PHONE: &[u8] = b"clearhawse v1 person's key and phone";

impl From<StretchError> for KeyError {
    fn from(error: StretchError) -> Self {
        Self::Browser(error.to_string())
    }
}

/// Stretches a PIN, and joins the phone's secret to it where there is one; the page can draw between two turns.
async fn stretch(
    pin: &Pin,
    figures: Stretch,
    salt: &[u8],
    secret: Option<&Secret>,
) -> Result<CryptoKey, KeyError> {
    let mut stretching = figures.begin(pin, salt)?;
    loop {
        breathe().await;
        if let Some(mut bits) = stretching.turn()? {
            let (mut both, info) = match secret {
                Some(secret) => ([&bits[..], secret.bytes()].concat(), INFO_WITH_PHONE),
                None => (bits.to_vec(), INFO),
            };
            let key = derive_aes(&both, salt, info).await;
            both.fill(0);
            bits.fill(0);
            std::hint::black_box((&both, &bits));
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
pub(crate) struct Peeled {
    kind: Protection,
    public: Vec<u8>,
    iv: Vec<u8>,
    inner: Vec<u8>,
    wrapping: CryptoKey,
}

/// Takes the outer layer off, and stretches the PIN for the inner one.
async fn peel(
    value: &JsValue,
    device: &CryptoKey,
    pin: &Pin,
    secret: Option<&Secret>,
) -> Result<Peeled, KeyError> {
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
    let figures: Stretch = journal::json::read(&text(value, "stretch")?)
        .map_err(|error| KeyError::Browser(format!("the stored key's figures: {error}")))?;
    let wrapping = stretch(pin, figures, &bytes(value, "salt")?, secret).await?;
    Ok(Peeled {
        kind,
        public,
        iv: bytes(value, "innerIv")?,
        inner,
        wrapping,
    })
}

/// Takes the inner layer off too and tries the key.
async fn unlock(peeled: &Peeled) -> Result<BrowserKey, KeyError> {
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
    phone: Option<&PhoneLock>,
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
    let sealed = object(&[
        ("kind", &"pin".into()),
        ("form", &wrapped.kind.word().into()),
        ("public", &array(&wrapped.public)),
        ("stretch", &figures.into()),
        ("salt", &array(salt)),
        ("innerIv", &array(&wrapped.iv)),
        ("outerIv", &array(&outer_iv)),
        ("wrapped", &array(&outer)),
    ])?;
    if let Some(phone) = phone {
        phone.keep_beside(&sealed)?;
    }
    Ok(sealed)
}

impl BrowserStore {
    /// Makes a key for somebody, wraps it under `pin` and the device's key, and puts it on disk; whose it
    /// is, the ship has yet to say.
    ///
    /// # Errors
    /// [`KeyError`] if no kind of key can be made, wrapped, stored, opened again and used.
    pub async fn make_key(&self, pin: &Pin) -> Result<Holder, KeyError> {
        let device = self.device_key().await?;
        let salt = random::<16>()?;
        let wrapping = stretch(pin, Stretch::NOW, &salt, None).await?;
        let in_browser = async {
            let wrapped = wrap_webcrypto(&wrapping).await?;
            let value = sealed(&device, &salt, &wrapped, &wrapping, None).await?;
            Ok::<_, KeyError>((wrapped, value))
        };
        let (wrapped, value) = if let Ok(made) = in_browser.await {
            made
        } else {
            let wrapped = wrap_software(&wrapping).await?;
            let value = sealed(&device, &salt, &wrapped, &wrapping, None).await?;
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
        let phone = PhoneLock::of(&value)?;
        let secret = PhoneLock::ask(phone.as_ref()).await?;
        let peeled = self
            .tried_peel(device, &value, old, secret.as_ref(), now_ms)
            .await?;
        let with = phone.as_ref().zip(secret.as_ref());
        self.wrap_again(device, &peeled, new, with).await
    }

    /// Counts a try, then makes it: takes the outer layer off the key and stretches the PIN for the inner one.
    pub(crate) async fn tried_peel(
        &self,
        device: &str,
        value: &JsValue,
        pin: &Pin,
        secret: Option<&Secret>,
        now_ms: i64,
    ) -> Result<Peeled, KeyError> {
        let own = self.key_object(DEVICE).await?.ok_or(KeyError::Gone)?;
        self.count_try(device, now_ms).await?;
        peel(value, &member(&own, "key")?, pin, secret).await
    }

    /// Opens what was peeled, and takes back what the try cost.
    pub(crate) async fn open_peeled(
        &self,
        device: &str,
        peeled: &Peeled,
        pin: &Pin,
        has_phone_lock: bool,
    ) -> Result<BrowserKey, KeyError> {
        let key = unlock(peeled).await?;
        self.change_holder(device, |holder| {
            holder.tries = Tries::default();
            holder.has_long_pin = Some(pin.is_long());
            holder.has_phone_lock = has_phone_lock;
        })
        .await?;
        Ok(key)
    }

    /// Wraps what was peeled under `pin`, and the phone's lock where there is one, and puts it in the place of what
    /// was there.
    pub(crate) async fn wrap_again(
        &self,
        device: &str,
        peeled: &Peeled,
        pin: &Pin,
        phone: Option<(&PhoneLock, &Secret)>,
    ) -> Result<(), KeyError> {
        let own = self.key_object(DEVICE).await?.ok_or(KeyError::Gone)?;
        let own: CryptoKey = member(&own, "key")?;
        let (phone, secret) = phone.unzip();
        let salt = random::<16>()?;
        let wrapping = stretch(pin, Stretch::NOW, &salt, secret).await?;
        let wrapped = wrap_anew(peeled, &wrapping).await?;
        let value = sealed(&own, &salt, &wrapped, &wrapping, phone).await?;
        let holder = self
            .change_holder(device, |holder| holder.tries = Tries::default())
            .await?;
        let holder = Holder {
            has_long_pin: Some(pin.is_long()),
            has_phone_lock: phone.is_some(),
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

    /// Opens the key of a chain with a PIN. The try is on disk before it is made; where the key is locked to the phone
    /// too, the phone is asked before that, so that its refusal costs none.
    ///
    /// # Errors
    /// [`KeyError::TooEarly`] after too many wrong tries, [`KeyError::WrongPin`], [`KeyError::PhoneRefused`] and the
    /// like, or what the browser or the store did not do.
    pub async fn open_key(
        &self,
        device: &str,
        pin: &Pin,
        now_ms: i64,
    ) -> Result<BrowserKey, KeyError> {
        let value = self.key_object(device).await?.ok_or(KeyError::Gone)?;
        let secret = PhoneLock::ask(PhoneLock::of(&value)?.as_ref()).await?;
        let peeled = self
            .tried_peel(device, &value, pin, secret.as_ref(), now_ms)
            .await?;
        self.open_peeled(device, &peeled, pin, secret.is_some())
            .await
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
