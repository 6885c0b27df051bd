//! The ship's board, as it changes.

use crate::device::Device;
use crate::timer::BrowserClock;
use journal::Board;
use journal::port::Clock as _;
use leptos::prelude::*;
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::{EventSource, MessageEvent};

thread_local! {
    static SOURCE: RefCell<Option<EventSource>> = const { RefCell::new(None) };
}

/// Starts listening, unless that was done before; the browser connects again by itself.
pub fn watch(device: &Rc<Device>) {
    if SOURCE.with(|source| source.borrow().is_some()) {
        return;
    }
    let Ok(source) = EventSource::new("/api/v1/live") else {
        return;
    };
    let phone = device.phone;
    let wake = Rc::clone(device);
    let on_board = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let Some(text) = event.data().as_string() else {
            return;
        };
        if let Ok(board) = serde_json::from_str::<Board>(&text) {
            phone.board.set(Some(board));
            phone.board_heard_ms.set(Some(BrowserClock.now_ms()));
            wake.wake.set(true);
        }
    });
    let on_beat = Closure::<dyn FnMut()>::new(move || {
        phone.board_heard_ms.set(Some(BrowserClock.now_ms()));
    });
    // Refused only for a name that is no text.
    let _ = source.add_event_listener_with_callback("board", on_board.as_ref().unchecked_ref());
    let _ = source.add_event_listener_with_callback("beat", on_beat.as_ref().unchecked_ref());
    on_board.forget(); // for as long as the page lives
    on_beat.forget();
    SOURCE.with(|slot| *slot.borrow_mut() = Some(source));
}
