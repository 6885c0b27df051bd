//! Talking to the other tabs and to the offline worker's watcher in `boot.js`.

use crate::client::Client;
use leptos::prelude::*;
use std::rc::Rc;
use ui::port::Device;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::BroadcastChannel;

const CHANNEL: &str = "clearhawse-records";

thread_local! {
    static TABS: Option<BroadcastChannel> = BroadcastChannel::new(CHANNEL).ok();
}

/// Tells the other tabs that there are new records on the disk.
pub fn tell_other_tabs() {
    TABS.with(|tabs| {
        if let Some(tabs) = tabs {
            // Nobody listening is no fault.
            let _ = tabs.post_message(&"records".into());
        }
    });
}

/// Reads again when another tab has put records on the disk.
pub fn follow_other_tabs(client: Rc<Client>) {
    let on_message = Closure::<dyn FnMut()>::new(move || {
        let client = Rc::clone(&client);
        wasm_bindgen_futures::spawn_local(async move { client.read_again().await });
    });
    TABS.with(|tabs| {
        if let Some(tabs) = tabs {
            tabs.set_onmessage(Some(on_message.as_ref().unchecked_ref()));
        }
    });
    on_message.forget(); // for as long as the page lives
}

fn root_says(name: &str, state: &str) -> bool {
    web_sys::window()
        .and_then(|window| window.document())
        .and_then(|document| document.document_element())
        .is_some_and(|root| root.get_attribute(name).as_deref() == Some(state))
}

/// Follows what `boot.js` says of the offline worker.
pub fn follow_worker(device: Device) {
    let look = move || {
        device.system.keeping.update(|keeping| {
            keeping.offline_ready = root_says("data-offline", "ready");
            keeping.update_ready = root_says("data-update", "ready");
            keeping.sound_ready = root_says("data-sound", "on");
        });
    };
    look();
    let on_change = Closure::<dyn FnMut()>::new(look);
    if let Some(window) = web_sys::window() {
        for name in [
            "clearhawse-offline",
            "clearhawse-update",
            "clearhawse-sound",
        ] {
            // Refused only for a name that is no text.
            let _ =
                window.add_event_listener_with_callback(name, on_change.as_ref().unchecked_ref());
        }
    }
    on_change.forget(); // for as long as the page lives
}

fn tell_page(name: &str) {
    if let (Some(window), Ok(event)) = (web_sys::window(), web_sys::CustomEvent::new(name)) {
        let _ = window.dispatch_event(&event);
    }
}

/// Lets the new version take over: the page loads again.
pub fn take_over() {
    tell_page("clearhawse-take-over");
}

/// Keeps the screen from going dark where the browser can, or lets it again.
pub fn stay_awake(is_wanted: bool) {
    tell_page(if is_wanted {
        "clearhawse-awake"
    } else {
        "clearhawse-asleep"
    });
}

/// Sounds the alarm, and shakes the phone where it can: three long shakes, felt through a glove.
pub fn alarm() {
    tell_page("clearhawse-alarm");
    let Some(window) = web_sys::window() else {
        return;
    };
    let navigator = window.navigator();
    // By name: not every browser has it.
    let can = js_sys::Reflect::has(&navigator, &"vibrate".into()).unwrap_or(false);
    if can {
        let pattern = js_sys::Array::of5(
            &600.into(),
            &200.into(),
            &600.into(),
            &200.into(),
            &600.into(),
        );
        navigator.vibrate_with_pattern(&pattern);
    }
}
