//! A signing key in use, and the form in which the first version kept its one key.
//!
//! WebCrypto signs with a key that cannot be exported. Where a browser has no Ed25519, a software key
//! signs; the credential says which of the two it is. How a key is kept while nobody uses it stands in
//! [`crate::locked`].

use crate::crypto::{
    aes, browser, bytes, done, done_bytes, make_aes, member, object, said, subtle,
};
use crate::database::{BrowserStore, commit};
use crate::schema::KEYS;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{TransactionDurability, TransactionMode, TransactionOptions};
use journal::port::{SignError, Signer, StoreError};
use js_sys::{Reflect, Uint8Array};
use record::{DeviceId, PublicKey, SoftKey};
use wasm_bindgen::JsValue;
use wasm_bindgen_futures::JsFuture;
use web_sys::CryptoKey;

/// The name of the device's own key among the keys.
pub(crate) const DEVICE: &str = "device";

/// How well the key is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Protection {
    /// In the browser's own key store, not extractable.
    WebCrypto,
    /// In software, its seed in the program's memory while it is in use.
    Software,
}

impl Protection {
    /// Returns the word that a credential has for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::WebCrypto => "webcrypto",
            Self::Software => "software",
        }
    }
}

/// Why there is no key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum KeyError {
    /// The browser has no cryptography here: the page is not on a secure address.
    #[error("this address is not secure enough for keys: open the page over https")]
    NotSecure,
    /// The browser failed.
    #[error("the browser did not make or give back the key: {0}")]
    Browser(String),
    /// It is not on this phone.
    #[error("the key is not on this phone any more")]
    Gone,
    /// The PIN is not the one that the key was wrapped with.
    #[error("the PIN is wrong")]
    WrongPin,
    /// Too many wrong tries lately.
    #[error("the next try has to wait {wait_ms} ms")]
    TooEarly {
        /// How long, ms.
        wait_ms: i64,
    },
    /// The phone's own lock was not opened: its owner or the phone refused, or the passkey is not there any more.
    /// Browsers do not tell which.
    #[error("the phone did not open its own lock")]
    PhoneRefused,
    /// The phone gave another secret than the one that the key was wrapped with.
    #[error("the phone's own lock is another than the key's")]
    PhoneOther,
    /// Phone, browser or address have no such lock.
    #[error("this browser has no lock of the phone's own to give")]
    PhoneCannot,
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

pub(crate) enum Inner {
    WebCrypto(CryptoKey),
    Software(Box<SoftKey>),
}

/// A signing key of this device, in use.
pub struct BrowserKey {
    inner: Inner,
    public: PublicKey,
}

impl std::fmt::Debug for BrowserKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("BrowserKey")
            .field("id", &self.id())
            .finish_non_exhaustive()
    }
}

pub(crate) fn public_key(bytes: &[u8]) -> Result<PublicKey, KeyError> {
    PublicKey::from_bytes(bytes).map_err(|refusal| KeyError::Browser(refusal.to_string()))
}

/// Makes a software key of a seed that the browser gave back; the seed's bytes are wiped.
pub(crate) fn soft_key(mut seed: Vec<u8>) -> Result<Box<SoftKey>, KeyError> {
    let key = <[u8; 32]>::try_from(seed.as_slice()).map(|mut bytes| {
        let key = SoftKey::from_seed(bytes);
        bytes.fill(0);
        std::hint::black_box(&bytes);
        Box::new(key)
    });
    seed.fill(0);
    std::hint::black_box(&seed);
    key.map_err(|_| KeyError::Browser("the wrapped key has the wrong length".to_owned()))
}

impl BrowserKey {
    pub(crate) fn new(inner: Inner, public: PublicKey) -> Self {
        Self { inner, public }
    }

    /// Returns the identity of the key's chain.
    pub fn id(&self) -> DeviceId {
        self.public.device()
    }

    /// Returns how the key is kept.
    pub fn protection(&self) -> Protection {
        match self.inner {
            Inner::WebCrypto(_) => Protection::WebCrypto,
            Inner::Software(_) => Protection::Software,
        }
    }

    /// Signs a trial and checks it, so that a browser that cannot really keep keys is found out now and
    /// not at the bow.
    pub(crate) async fn tried(self) -> Result<Self, KeyError> {
        let trial = b"clearhawse key trial";
        let signature = self
            .sign(trial)
            .await
            .map_err(|error| KeyError::Browser(error.to_string()))?;
        if self.public.accepts(trial, &signature) {
            Ok(self)
        } else {
            Err(KeyError::Browser(
                "the key's trial signature does not verify".to_owned(),
            ))
        }
    }

    /// Reads a key as the first version kept it: without a PIN.
    async fn without_pin(value: &JsValue) -> Result<Self, KeyError> {
        let public = public_key(&bytes(value, "public")?)?;
        let kind = Reflect::get(value, &"kind".into())
            .map_err(browser)?
            .as_string();
        if kind.as_deref() == Some("webcrypto") {
            return Ok(Self::new(
                Inner::WebCrypto(member(value, "private")?),
                public,
            ));
        }
        let wrapping: CryptoKey = member(value, "wrapping")?;
        let opened = subtle()?.decrypt_with_object_and_u8_array(
            &aes(&bytes(value, "iv")?, None)?,
            &wrapping,
            &bytes(value, "wrapped")?,
        );
        let key = soft_key(done_bytes(opened).await?)?;
        Ok(Self::new(Inner::Software(key), public))
    }
}

impl Signer for BrowserKey {
    fn public_key(&self) -> PublicKey {
        self.public
    }

    async fn sign(&self, bytes: &[u8]) -> Result<[u8; 64], SignError> {
        match &self.inner {
            Inner::Software(key) => Ok(key.sign(bytes)),
            Inner::WebCrypto(key) => {
                let promise = subtle()
                    .map_err(|error| SignError(error.to_string()))?
                    .sign_with_str_and_u8_array("Ed25519", key, bytes)
                    .map_err(|error| SignError(said(&error)))?;
                let signature = JsFuture::from(promise)
                    .await
                    .map_err(|error| SignError(said(&error)))?;
                Uint8Array::new(&signature)
                    .to_vec()
                    .try_into()
                    .map_err(|_| SignError("the browser's signature has a wrong length".to_owned()))
            }
        }
    }
}

impl BrowserStore {
    /// Returns the device's own key, made on first use.
    pub(crate) async fn device_key(&self) -> Result<CryptoKey, KeyError> {
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

    /// Returns what is kept under that name among the keys.
    pub(crate) async fn key_object(&self, name: &str) -> Result<Option<JsValue>, StoreError> {
        let value: Option<JsValue> = self
            .with(async |database| {
                let transaction = database.transaction(KEYS).build()?;
                let store = transaction.object_store(KEYS)?;
                store.get::<JsValue, _, _>(name).primitive()?.await
            })
            .await?;
        Ok(value.filter(|value| !value.is_undefined() && !value.is_null()))
    }

    /// Returns the key that the first version kept under that name, without a PIN.
    ///
    /// # Errors
    /// [`KeyError`] if the store or the browser does not give it back.
    pub async fn key_without_pin(&self, name: &str) -> Result<Option<BrowserKey>, KeyError> {
        match self.key_object(name).await? {
            None => Ok(None),
            Some(value) => BrowserKey::without_pin(&value).await.map(Some),
        }
    }
}

/// Makes an Ed25519 key pair that may be wrapped once; the private half must not be kept so.
pub(crate) async fn make_pair() -> Result<(CryptoKey, Vec<u8>), KeyError> {
    let subtle = subtle()?;
    let usages = crate::crypto::usages(&["sign", "verify"]);
    let pair = done(subtle.generate_key_with_str("Ed25519", true, &usages)).await?;
    let public: CryptoKey = member(&pair, "publicKey")?;
    let raw = done_bytes(subtle.export_key("raw", &public)).await?;
    Ok((member(&pair, "privateKey")?, raw))
}
