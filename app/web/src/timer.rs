//! Waiting, and the time.

#![expect(
    clippy::disallowed_methods,
    reason = "the one place where the page reads the time"
)]

use journal::port::Clock;
use js_sys::Promise;
use wasm_bindgen_futures::JsFuture;

/// The browser's clock.
#[derive(Debug, Clone, Copy)]
pub struct BrowserClock;

impl Clock for BrowserClock {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "ms since 1970 fit for 280,000 years"
    )]
    fn now_ms(&self) -> i64 {
        js_sys::Date::now() as i64
    }
}

/// Waits `ms` milliseconds.
pub async fn sleep(ms: i32) {
    let promise = Promise::new(&mut |resolve, _| {
        if let Some(window) = web_sys::window() {
            // Refused only without a window, and then there is nothing to wait for.
            let _ = window.set_timeout_with_callback_and_timeout_and_arguments_0(&resolve, ms);
        }
    });
    let _ = JsFuture::from(promise).await;
}

/// Returns the time since the page was opened, ms: it goes on whatever happens to the clock.
pub fn steady_ms() -> f64 {
    let steady = web_sys::window().and_then(|window| window.performance());
    steady.map_or(0.0, |clock| clock.now())
}
