//! How much room the browser gives, and whether it promises to keep what is stored.

use wasm_bindgen::JsValue;
use wasm_bindgen_futures::JsFuture;

/// What the browser says of its storage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room {
    /// `true` if the browser promised not to clear it by itself.
    pub persistent: bool,
    /// Bytes in use, where the browser tells.
    pub used: f64,
    /// Bytes that may be used, where the browser tells; 0 if not.
    pub quota: f64,
}

impl Room {
    /// Returns `true` when less than 20 MB or less than a twentieth of the quota is left.
    pub fn is_low(&self) -> bool {
        journal::quota::is_room_low(self.used, self.quota)
    }
}

fn manager() -> Option<web_sys::StorageManager> {
    let navigator = web_sys::window()?.navigator();
    let storage = js_sys::Reflect::get(&navigator, &"storage".into()).ok()?;
    if storage.is_undefined() {
        None
    } else {
        Some(navigator.storage())
    }
}

fn number(object: &JsValue, name: &str) -> f64 {
    js_sys::Reflect::get(object, &name.into())
        .ok()
        .and_then(|n| n.as_f64())
        .unwrap_or(0.0)
}

/// Asks the browser to keep what is stored; returns whether it promises to.
pub async fn ask_to_persist() -> bool {
    let Some(Ok(promise)) = manager().map(|m| m.persist()) else {
        return false;
    };
    JsFuture::from(promise)
        .await
        .is_ok_and(|answer| answer.as_bool().unwrap_or(false))
}

/// Returns what the browser says of its storage.
pub async fn room() -> Room {
    let nothing = Room {
        persistent: false,
        used: 0.0,
        quota: 0.0,
    };
    let Some(manager) = manager() else {
        return nothing;
    };
    let persistent = match manager.persisted() {
        Ok(promise) => JsFuture::from(promise)
            .await
            .is_ok_and(|a| a.as_bool().unwrap_or(false)),
        Err(_) => false,
    };
    match manager.estimate() {
        Ok(promise) => match JsFuture::from(promise).await {
            Ok(estimate) => Room {
                persistent,
                used: number(&estimate, "usage"),
                quota: number(&estimate, "quota"),
            },
            Err(_) => Room {
                persistent,
                ..nothing
            },
        },
        Err(_) => Room {
            persistent,
            ..nothing
        },
    }
}
