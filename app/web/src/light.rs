//! The light: kept on the device, set before the first paint by `boot.js`, told of every change.

use crate::timer::BrowserClock;
use journal::port::Clock as _;
use seamanship::position::Position;
use seamanship::time::UtcMs;
use ui::parts::Light;
use web_sys::Storage;

fn storage() -> Option<Storage> {
    web_sys::window()?.local_storage().ok().flatten()
}

/// Returns the light that was chosen on this device.
pub fn chosen() -> Light {
    storage()
        .and_then(|storage| storage.get_item("light").ok().flatten())
        .and_then(|name| Light::named(&name))
        .unwrap_or_default()
}

/// Where a plan that is being typed stands.
const PLAN: &str = "plan";

/// Returns the plan that was being typed when the page was last here, as text.
pub fn kept_plan() -> Option<String> {
    storage()?.get_item(PLAN).ok().flatten()
}

/// Keeps a plan that is being typed over a start of the page; or keeps none. It is signed by nobody yet, and only a
/// browser without storage loses it.
pub fn keep_plan(text: Option<&str>) {
    if let Some(storage) = storage() {
        let _ = match text {
            Some(text) => storage.set_item(PLAN, text),
            None => storage.remove_item(PLAN),
        };
    }
}

fn changed() {
    if let (Some(window), Ok(event)) = (
        web_sys::window(),
        web_sys::CustomEvent::new("clearhawse-light"),
    ) {
        let _ = window.dispatch_event(&event);
    }
}

/// Keeps and applies the light.
pub fn choose(light: Light) {
    if let Some(storage) = storage() {
        // Without storage the light follows the sun; nothing else depends on it.
        let _ = storage.set_item("light", light.name());
    }
    changed();
}

/// Keeps today's sunrise and sunset at the ship's position, for the light that follows the sun.
pub fn keep_sun(rise_ms: i64, set_ms: i64) {
    if let Some(storage) = storage() {
        let _ = storage.set_item("sunrise", &rise_ms.to_string());
        let _ = storage.set_item("sunset", &set_ms.to_string());
    }
    changed();
}

/// Reckons and keeps today's sunrise and sunset at a place; where the sun does not rise or set today,
/// the last that were kept go on.
pub fn keep_sun_at(latitude_deg: f64, longitude_deg: f64) {
    const DAY_MS: i64 = 86_400_000;
    let midnight = BrowserClock.now_ms().div_euclid(DAY_MS) * DAY_MS;
    let Ok(place) = Position::new(latitude_deg, longitude_deg) else {
        return;
    };
    let Ok(day) = seamanship::sun::day(place, UtcMs(midnight)) else {
        return;
    };
    if let (Some(rise), Some(set)) = (day.sun.up, day.sun.down) {
        keep_sun(rise.0, set.0);
    }
}
