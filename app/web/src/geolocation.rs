//! The phone's own fix, with the accuracy that it claims.

use crate::timer::BrowserClock;
use journal::port::Clock as _;
use js_sys::Reflect;
use leptos::prelude::*;
use ui::port::{Device, Fix, Fixing};
use wasm_bindgen::closure::Closure;
use wasm_bindgen::{JsCast, JsValue};

/// How long the phone may take to find itself, ms.
const PATIENCE_MS: u32 = 30_000;
/// A fix older than this is not used, ms.
const OLDEST_MS: u32 = 5_000;

fn number(object: &JsValue, name: &str) -> Option<f64> {
    Reflect::get(object, &name.into()).ok()?.as_f64()
}

fn fix_of(position: &JsValue) -> Option<Fix> {
    let place = Reflect::get(position, &"coords".into()).ok()?;
    #[expect(
        clippy::cast_possible_truncation,
        reason = "ms since 1970 fit for 280,000 years"
    )]
    let at_ms = number(position, "timestamp")
        .map_or_else(|| BrowserClock.now_ms(), |milliseconds| milliseconds as i64);
    Some(Fix {
        lat_deg: number(&place, "latitude")?,
        lon_deg: number(&place, "longitude")?,
        accuracy_m: number(&place, "accuracy")?,
        at_ms,
    })
}

fn trouble(error: &JsValue) -> String {
    let why = match number(error, "code") {
        Some(1.0) => "this phone was not allowed to tell its position",
        Some(3.0) => "no fix within half a minute",
        _ => "this phone cannot find its position here",
    };
    format!("{why}: read it from the ship's receiver and type it")
}

/// Asks the phone for its position; the answer stands in `device.media.fix`.
pub fn ask(device: Device) {
    device.media.fix.set(Fixing::Asked);
    let geolocation = web_sys::window().and_then(|window| window.navigator().geolocation().ok());
    let Some(geolocation) = geolocation else {
        device
            .media
            .fix
            .set(Fixing::Failed(trouble(&JsValue::NULL)));
        return;
    };
    let found = Closure::once_into_js(move |position: JsValue| {
        let fix = fix_of(&position);
        device
            .media
            .fix
            .set(fix.map_or_else(|| Fixing::Failed(trouble(&JsValue::NULL)), Fixing::Got));
    });
    let failed = Closure::once_into_js(move |error: JsValue| {
        device.media.fix.set(Fixing::Failed(trouble(&error)));
    });
    let options = web_sys::PositionOptions::new();
    options.set_enable_high_accuracy(true);
    options.set_timeout(PATIENCE_MS);
    options.set_maximum_age(OLDEST_MS);
    let asked = geolocation.get_current_position_with_error_callback_and_options(
        found.unchecked_ref(),
        Some(failed.unchecked_ref()),
        &options,
    );
    if let Err(error) = asked {
        device.media.fix.set(Fixing::Failed(trouble(&error)));
    }
}
