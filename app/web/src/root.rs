//! The root of the page: makes the signals, provides what pages ask for, and starts the client.

use crate::{client, enrol, http, keys, light, session, timer};
use futures::channel::mpsc;
use leptos::prelude::*;
use send_wrapper::SendWrapper;
use std::sync::Arc;
use ui::App;
use ui::port::{Answer, Command, Device, Sender, Source};
use ui::words::Language;
use wasm_bindgen::prelude::*;

/// Starts the program in the page that loaded it.
#[wasm_bindgen]
pub async fn start() {
    // The page's watcher says that the program stopped; this says why, for whoever looks into it.
    std::panic::set_hook(Box::new(|panic| {
        web_sys::console::error_1(&panic.to_string().into());
    }));
    let code = enrol::code_in_address();
    let window = web_sys::window();
    let path = window
        .as_ref()
        .and_then(|window| window.location().pathname().ok());
    ui::fetch_for(&path.unwrap_or_default()).await;
    // A page that the server drew has been read until now; from here on this one takes its place.
    let document = window.and_then(|window| window.document());
    if let Some(language) = document
        .as_ref()
        .and_then(web_sys::Document::document_element)
        .and_then(|root| root.get_attribute("lang"))
        .and_then(|tag| Language::of_tag(&tag))
    {
        language.choose();
    }
    if let Some(body) = document.as_ref().and_then(web_sys::Document::body) {
        body.set_inner_html("");
    }
    if let Some(document) = &document {
        keys::guard(document);
    }
    leptos::mount::mount_to_body(move || root(code.clone()));
}

fn root(code: Option<String>) -> impl IntoView {
    let (sender, receiver) = mpsc::unbounded::<client::Asked>();
    let dispatch = Callback::new(move |command: Command| {
        // The receiver lives as long as the page: nothing can be lost here.
        let _ = sender.unbounded_send((command, timer::steady_ms()));
    });
    let device = Device::new(dispatch);
    device.records.kept_plan.set(light::kept_plan());
    provide_context(device);
    provide_context(source());
    provide_context(counter());
    Effect::new({
        let receiver = SendWrapper::new(std::cell::RefCell::new(Some(receiver)));
        move |_| {
            if let Some(receiver) = receiver.borrow_mut().take() {
                wasm_bindgen_futures::spawn_local(client::run(device, receiver, code.clone()));
            }
        }
    });
    view! { <App /> }
}

fn source() -> Source {
    Source(Arc::new(|path| -> Answer {
        Box::pin(SendWrapper::new(async move {
            let reply = http::get(&path).await.map_err(|e| e.to_string())?;
            reply.text().map_err(|error| error.to_string())
        }))
    }))
}

fn counter() -> Sender {
    Sender(Arc::new(|path, body| -> Answer {
        Box::pin(SendWrapper::new(async move {
            let reply = session::post_as_act(&path, &body)
                .await
                .map_err(|error| error.to_string())?;
            reply.text().map_err(|error| error.to_string())
        }))
    }))
}
