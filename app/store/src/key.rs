//! The device's signing key: made by the browser, never leaving it.
//!
//! WebCrypto makes an Ed25519 key that cannot be exported and that IndexedDB can hold. Where a browser
//! has no Ed25519, a software key is made, and its seed is kept encrypted under an AES key that cannot be
//! exported; the credential says which of the two it is.

use crate::database::{BrowserStore, KEYS, commit, store_error};
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{TransactionDurability, TransactionMode, TransactionOptions};
use journal::port::{SignError, Signer, StoreError};
use js_sys::{Array, ArrayBuffer, Object, Reflect, Uint8Array};
use record::{DeviceId, PublicKey, SoftKey};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{CryptoKey, SubtleCrypto};

/// How well the key is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Protection {
    /// In the browser's own key store, not extractable.
    WebCrypto,
    /// In software, its seed wrapped by a non-extractable AES key.
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
    /// The store failed.
    #[error(transparent)]
    Store(#[from] StoreError),
}

enum Inner {
    WebCrypto(CryptoKey),
    Software(Box<SoftKey>),
}

/// A signing key of this device.
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

fn said(error: &JsValue) -> String {
    let text = |name: &str| {
        Reflect::get(error, &name.into())
            .ok()
            .and_then(|text| text.as_string())
            .unwrap_or_default()
    };
    format!("{} {}", text("name"), text("message"))
        .trim()
        .to_owned()
}

fn browser(error: JsValue) -> KeyError {
    KeyError::Browser(said(&error))
}

fn subtle() -> Result<SubtleCrypto, KeyError> {
    let window = web_sys::window().ok_or(KeyError::NotSecure)?;
    let crypto = window.crypto().map_err(|_| KeyError::NotSecure)?;
    let subtle = Reflect::get(&crypto, &"subtle".into()).map_err(|_| KeyError::NotSecure)?;
    subtle.dyn_into().map_err(|_| KeyError::NotSecure)
}

fn usages(words: &[&str]) -> JsValue {
    words
        .iter()
        .map(|word| JsValue::from_str(word))
        .collect::<Array>()
        .into()
}

fn random<const N: usize>() -> Result<[u8; N], KeyError> {
    let mut bytes = [0; N];
    let crypto = web_sys::window()
        .ok_or(KeyError::NotSecure)?
        .crypto()
        .map_err(|_| KeyError::NotSecure)?;
    crypto
        .get_random_values_with_u8_array(&mut bytes)
        .map_err(browser)?;
    Ok(bytes)
}

fn member<T: JsCast>(object: &JsValue, name: &str) -> Result<T, KeyError> {
    Reflect::get(object, &name.into())
        .map_err(browser)?
        .dyn_into()
        .map_err(|_| KeyError::Browser(format!("the stored key has no {name}")))
}

fn stored(parts: &[(&str, &JsValue)]) -> Result<JsValue, KeyError> {
    let object = Object::new();
    for (name, value) in parts {
        Reflect::set(&object, &(*name).into(), value).map_err(browser)?;
    }
    Ok(object.into())
}

fn aes(iv: &[u8]) -> Result<Object, KeyError> {
    let algorithm = Object::new();
    Reflect::set(&algorithm, &"name".into(), &"AES-GCM".into()).map_err(browser)?;
    Reflect::set(&algorithm, &"iv".into(), &Uint8Array::from(iv)).map_err(browser)?;
    Ok(algorithm)
}

fn public_key(bytes: &[u8]) -> Result<PublicKey, KeyError> {
    PublicKey::from_bytes(bytes).map_err(|refusal| KeyError::Browser(refusal.to_string()))
}

/// Makes a WebCrypto key, as the object that is stored.
async fn make_webcrypto() -> Result<JsValue, KeyError> {
    let subtle = subtle()?;
    let promise = subtle
        .generate_key_with_str("Ed25519", false, &usages(&["sign", "verify"]))
        .map_err(browser)?;
    let pair = JsFuture::from(promise).await.map_err(browser)?;
    let public: CryptoKey = member(&pair, "publicKey")?;
    let promise = subtle.export_key("raw", &public).map_err(browser)?;
    let raw = Uint8Array::new(&JsFuture::from(promise).await.map_err(browser)?);
    let private: CryptoKey = member(&pair, "privateKey")?;
    stored(&[
        ("kind", &"webcrypto".into()),
        ("private", &private),
        ("public", &raw),
    ])
}

/// Makes a software key, its seed wrapped, as the object that is stored.
async fn make_software() -> Result<JsValue, KeyError> {
    let subtle = subtle()?;
    let algorithm = Object::new();
    Reflect::set(&algorithm, &"name".into(), &"AES-GCM".into()).map_err(browser)?;
    Reflect::set(&algorithm, &"length".into(), &256.into()).map_err(browser)?;
    let promise = subtle
        .generate_key_with_object(&algorithm, false, &usages(&["encrypt", "decrypt"]))
        .map_err(browser)?;
    let wrapping: CryptoKey = JsFuture::from(promise)
        .await
        .map_err(browser)?
        .unchecked_into();
    let mut seed = random::<32>()?;
    let iv = random::<12>()?;
    let promise = subtle
        .encrypt_with_object_and_u8_array(&aes(&iv)?, &wrapping, &seed)
        .map_err(browser)?;
    let wrapped = Uint8Array::new(&JsFuture::from(promise).await.map_err(browser)?);
    let public = SoftKey::from_seed(seed).public();
    seed.fill(0);
    stored(&[
        ("kind", &"software".into()),
        ("wrapping", &wrapping),
        ("iv", &Uint8Array::from(iv.as_slice())),
        ("wrapped", &wrapped),
        ("public", &Uint8Array::from(public.as_bytes().as_slice())),
    ])
}

impl BrowserKey {
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

    async fn from_stored(value: &JsValue) -> Result<Self, KeyError> {
        let public: Uint8Array = member(value, "public")?;
        let public = public_key(&public.to_vec())?;
        let kind = Reflect::get(value, &"kind".into())
            .map_err(browser)?
            .as_string();
        if kind.as_deref() == Some("webcrypto") {
            return Ok(Self {
                inner: Inner::WebCrypto(member(value, "private")?),
                public,
            });
        }
        let wrapping: CryptoKey = member(value, "wrapping")?;
        let iv: Uint8Array = member(value, "iv")?;
        let wrapped: Uint8Array = member(value, "wrapped")?;
        let promise = subtle()?
            .decrypt_with_object_and_u8_array(&aes(&iv.to_vec())?, &wrapping, &wrapped.to_vec())
            .map_err(browser)?;
        let seed: ArrayBuffer = JsFuture::from(promise)
            .await
            .map_err(browser)?
            .unchecked_into();
        let seed: [u8; 32] = Uint8Array::new(&seed)
            .to_vec()
            .try_into()
            .map_err(|_| KeyError::Browser("the wrapped key has the wrong length".to_owned()))?;
        Ok(Self {
            inner: Inner::Software(Box::new(SoftKey::from_seed(seed))),
            public,
        })
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
    /// Returns the key of that name, if the store has one.
    ///
    /// # Errors
    /// [`KeyError`] if the store or the browser does not give it back.
    pub async fn key(&self, name: &str) -> Result<Option<BrowserKey>, KeyError> {
        let value: Option<JsValue> = self
            .with(async |database| {
                let transaction = database.transaction(KEYS).build()?;
                let store = transaction.object_store(KEYS)?;
                store.get::<JsValue, _, _>(name).primitive()?.await
            })
            .await?;
        match value {
            None => Ok(None),
            Some(value) if value.is_undefined() || value.is_null() => Ok(None),
            Some(value) => BrowserKey::from_stored(&value).await.map(Some),
        }
    }

    /// Makes a key of that name and puts it on disk, then reads it back and tries it, so that a browser
    /// that cannot really keep keys is found out now and not at the bow.
    ///
    /// # Errors
    /// [`KeyError`] if no kind of key can be made, stored, read back and used.
    pub async fn make_key(&self, name: &str) -> Result<BrowserKey, KeyError> {
        match make_webcrypto().await {
            Ok(value) => match self.try_key(name, &value).await {
                Ok(key) => Ok(key),
                Err(_) => self.try_key(name, &make_software().await?).await,
            },
            Err(KeyError::NotSecure) => Err(KeyError::NotSecure),
            Err(_) => self.try_key(name, &make_software().await?).await,
        }
    }

    async fn try_key(&self, name: &str, value: &JsValue) -> Result<BrowserKey, KeyError> {
        let database = self.connection().await?;
        let put = async {
            let transaction = database
                .transaction(KEYS)
                .with_mode(TransactionMode::Readwrite)
                .with_options(
                    TransactionOptions::new().with_durability(TransactionDurability::Strict),
                )
                .build()?;
            let store = transaction.object_store(KEYS)?;
            store.put(value.clone()).with_key(name).primitive()?.await?;
            commit(transaction).await
        };
        put.await.map_err(|error| store_error(&error))?;
        let key = self
            .key(name)
            .await?
            .ok_or_else(|| KeyError::Browser("the key was stored and is not there".to_owned()))?;
        let trial = b"clearhawse key trial";
        let signature = key
            .sign(trial)
            .await
            .map_err(|error| KeyError::Browser(error.to_string()))?;
        if key.public.accepts(trial, &signature) {
            Ok(key)
        } else {
            Err(KeyError::Browser(
                "the key's trial signature does not verify".to_owned(),
            ))
        }
    }
}
