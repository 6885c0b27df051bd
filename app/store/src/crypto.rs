//! What the store needs of the browser's cryptography, in plain values.

use crate::key::KeyError;
use js_sys::{Array, Object, Promise, Reflect, Uint8Array};
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{CryptoKey, SubtleCrypto};

/// Returns what a browser's error says.
pub(crate) fn said(error: &JsValue) -> String {
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

pub(crate) fn browser(error: JsValue) -> KeyError {
    KeyError::Browser(said(&error))
}

pub(crate) fn subtle() -> Result<SubtleCrypto, KeyError> {
    let window = web_sys::window().ok_or(KeyError::NotSecure)?;
    let crypto = window.crypto().map_err(|_| KeyError::NotSecure)?;
    let subtle = Reflect::get(&crypto, &"subtle".into()).map_err(|_| KeyError::NotSecure)?;
    subtle.dyn_into().map_err(|_| KeyError::NotSecure)
}

pub(crate) fn usages(words: &[&str]) -> JsValue {
    words
        .iter()
        .map(|word| JsValue::from_str(word))
        .collect::<Array>()
        .into()
}

pub(crate) fn random<const N: usize>() -> Result<[u8; N], KeyError> {
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

/// Returns a member of a stored object.
pub(crate) fn member<T: JsCast>(object: &JsValue, name: &str) -> Result<T, KeyError> {
    Reflect::get(object, &name.into())
        .map_err(browser)?
        .dyn_into()
        .map_err(|_| KeyError::Browser(format!("the stored key has no {name}")))
}

/// Returns a member of a stored object that is text.
pub(crate) fn text(object: &JsValue, name: &str) -> Result<String, KeyError> {
    Reflect::get(object, &name.into())
        .map_err(browser)?
        .as_string()
        .ok_or_else(|| KeyError::Browser(format!("the stored key has no {name}")))
}

/// Returns a member of a stored object that is bytes.
pub(crate) fn bytes(object: &JsValue, name: &str) -> Result<Vec<u8>, KeyError> {
    Ok(member::<Uint8Array>(object, name)?.to_vec())
}

/// Makes an object to be stored.
pub(crate) fn object(parts: &[(&str, &JsValue)]) -> Result<JsValue, KeyError> {
    let object = Object::new();
    for (name, value) in parts {
        Reflect::set(&object, &(*name).into(), value).map_err(browser)?;
    }
    Ok(object.into())
}

/// AES-GCM with a nonce and, where there is some, data that is bound but not hidden.
pub(crate) fn aes(iv: &[u8], bound: Option<&[u8]>) -> Result<Object, KeyError> {
    let algorithm = object(&[("name", &"AES-GCM".into()), ("iv", &Uint8Array::from(iv))])?;
    if let Some(bound) = bound {
        let bound = Uint8Array::from(bound);
        Reflect::set(&algorithm, &"additionalData".into(), &bound).map_err(browser)?;
    }
    Ok(algorithm.unchecked_into())
}

/// Waits for what a call to the browser's cryptography gives.
pub(crate) async fn done(promise: Result<Promise, JsValue>) -> Result<JsValue, KeyError> {
    JsFuture::from(promise.map_err(browser)?)
        .await
        .map_err(browser)
}

/// The same, as bytes.
pub(crate) async fn done_bytes(promise: Result<Promise, JsValue>) -> Result<Vec<u8>, KeyError> {
    Ok(Uint8Array::new(&done(promise).await?).to_vec())
}

/// Makes an AES key that encrypts here and can never be taken out.
pub(crate) async fn make_aes() -> Result<CryptoKey, KeyError> {
    let algorithm = object(&[("name", &"AES-GCM".into()), ("length", &256.into())])?;
    let key = done(subtle()?.generate_key_with_object(
        algorithm.unchecked_ref(),
        false,
        &usages(&["encrypt", "decrypt"]),
    ))
    .await?;
    Ok(key.unchecked_into())
}

/// Derives the AES key that wraps, by HKDF with SHA-256 (RFC 5869); it can never be taken out.
pub(crate) async fn derive_aes(
    bits: &[u8],
    salt: &[u8],
    info: &[u8],
) -> Result<CryptoKey, KeyError> {
    let subtle = subtle()?;
    let raw = Uint8Array::from(bits);
    let promise = subtle.import_key_with_str("raw", &raw, "HKDF", false, &usages(&["deriveKey"]));
    let input: Result<CryptoKey, KeyError> = done(promise).await.map(JsCast::unchecked_into);
    raw.fill(0, 0, raw.length());
    let algorithm = object(&[
        ("name", &"HKDF".into()),
        ("hash", &"SHA-256".into()),
        ("salt", &Uint8Array::from(salt)),
        ("info", &Uint8Array::from(info)),
    ])?;
    let wanted = object(&[("name", &"AES-GCM".into()), ("length", &256.into())])?;
    let key = done(subtle.derive_key_with_object_and_object(
        algorithm.unchecked_ref(),
        &input?,
        wanted.unchecked_ref(),
        false,
        &usages(&["encrypt", "decrypt", "wrapKey", "unwrapKey"]),
    ))
    .await?;
    Ok(key.unchecked_into())
}

/// Lets the page draw and answer before the work goes on.
pub(crate) async fn breathe() {
    let promise = Promise::new(&mut |resolve, _| {
        if let Some(window) = web_sys::window() {
            // Refused only without a window, and then nothing waits to be drawn.
            let _ = window.set_timeout_with_callback_and_timeout_and_arguments_0(&resolve, 0);
        }
    });
    let _ = JsFuture::from(promise).await;
}
