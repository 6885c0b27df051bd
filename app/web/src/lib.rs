//! The phone's root: wires the store, the sync client, the worker and the screen together.
//!
//! One wasm, two mounts: a page that the server drew is hydrated; the content-free shell that the
//! offline worker answers with is mounted from nothing. Built for wasm only: natively the crate is empty.

#![cfg(target_arch = "wasm32")]

mod device;
mod enrol;
mod http;
mod light;
mod live;
mod sync;
mod tell;
mod timer;

use futures::channel::mpsc;
use leptos::prelude::*;
use send_wrapper::SendWrapper;
use std::sync::Arc;
use ui::App;
use ui::port::{Act, Answer, Phone, Source};
use wasm_bindgen::prelude::*;

/// Starts the program in the page that loaded it.
#[wasm_bindgen]
pub fn start() {
    let drawn_by_server = web_sys::window()
        .and_then(|window| window.document())
        .and_then(|document| document.document_element())
        .is_some_and(|root| !root.has_attribute("data-shell"));
    if drawn_by_server {
        leptos::mount::hydrate_body(root);
    } else {
        leptos::mount::mount_to_body(root);
    }
}

fn root() -> impl IntoView {
    let (sender, receiver) = mpsc::unbounded::<Act>();
    let act = Callback::new(move |act: Act| {
        // The receiver lives as long as the page: nothing can be lost here.
        let _ = sender.unbounded_send(act);
    });
    let phone = Phone::new(act);
    provide_context(phone);
    provide_context(source());
    // What is on this device is shown after the first drawing, so that the server's drawing and this
    // one are the same.
    Effect::new({
        let receiver = SendWrapper::new(std::cell::RefCell::new(Some(receiver)));
        move |_| {
            if let Some(receiver) = receiver.borrow_mut().take() {
                wasm_bindgen_futures::spawn_local(device::run(phone, receiver));
            }
        }
    });
    view! { <App /> }
}

fn source() -> Source {
    Source(Arc::new(|path| -> Answer {
        Box::pin(SendWrapper::new(async move {
            let reply = http::get(&format!("/api/v1/{path}"))
                .await
                .map_err(|e| e.to_string())?;
            reply.text().map_err(|error| error.to_string())
        }))
    }))
}
