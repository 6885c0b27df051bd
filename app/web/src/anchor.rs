//! The anchor watch, as it is heard: one stream while pages show it.

use crate::client::Client;
use crate::timer::{BrowserClock, sleep};
use crate::{http, later};
use journal::address;
use journal::port::Clock as _;
use leptos::prelude::*;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::{EventSource, MessageEvent};

/// Silence after which a stream is opened anew, ms.
const SILENCE_MS: i64 = 12_000;
/// Between looks at the stream, ms.
const LOOK_MS: i32 = 2_000;

thread_local! {
    /// How many parts of pages show the watch.
    static WANTED: Cell<u32> = const { Cell::new(0) };
    static IS_LISTENING: Cell<bool> = const { Cell::new(false) };
    /// The newest that came and is not read yet; an older one says nothing beside it.
    static WAITS: RefCell<Option<String>> = const { RefCell::new(None) };
    static IS_READING: Cell<bool> = const { Cell::new(false) };
}

/// A stream and what listens to it.
struct Stream {
    source: EventSource,
    _watch: Closure<dyn FnMut(MessageEvent)>,
}

impl Drop for Stream {
    fn drop(&mut self) {
        self.source.close();
    }
}

/// Listens while something shows the watch.
pub fn listen(client: &Rc<Client>, is_wanted: bool) {
    WANTED.with(|wanted| {
        let count = wanted.get();
        wanted.set(if is_wanted {
            count + 1
        } else {
            count.saturating_sub(1)
        });
    });
    if is_wanted && !IS_LISTENING.replace(true) {
        wasm_bindgen_futures::spawn_local(keep_listening(Rc::clone(client)));
    }
}

async fn keep_listening(client: Rc<Client>) {
    let link = client.device.link;
    while WANTED.get() > 0 {
        // A stream says no more of a refusal than that it is one: the session is seen to before.
        if http::get(address::SESSION.path()).await.is_err() {
            sleep(LOOK_MS).await;
            continue;
        }
        let opened_ms = BrowserClock.now_ms();
        let stream = open(&client);
        while WANTED.get() > 0 {
            sleep(LOOK_MS).await;
            let heard_ms = link.anchor_heard_ms.get_untracked().unwrap_or(0);
            let silent_ms = BrowserClock.now_ms() - heard_ms.max(opened_ms);
            let is_closed = stream
                .as_ref()
                .is_none_or(|stream| stream.source.ready_state() == EventSource::CLOSED);
            if is_closed || silent_ms > SILENCE_MS {
                break;
            }
        }
    }
    IS_LISTENING.set(false);
    // What was heard then is not shown for what is so when a page asks again.
    link.anchor_watch.set(None);
    link.anchor_heard_ms.set(None);
}

fn open(client: &Rc<Client>) -> Option<Stream> {
    let source = EventSource::new(address::WATCH_LIVE.at([]).as_str()).ok()?;
    let reader = Rc::clone(client);
    let watch = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let Some(text) = event.data().as_string() else {
            return;
        };
        WAITS.with(|waits| *waits.borrow_mut() = Some(text));
        if !IS_READING.replace(true) {
            wasm_bindgen_futures::spawn_local(read(Rc::clone(&reader)));
        }
    });
    // Refused only for a name that is no text.
    let _ = source.add_event_listener_with_callback("watch", watch.as_ref().unchecked_ref());
    Some(Stream {
        source,
        _watch: watch,
    })
}

async fn read(client: Rc<Client>) {
    let link = client.device.link;
    while let Some(text) = WAITS.with(|waits| waits.borrow_mut().take()) {
        if let Ok(Some(page)) = later::anchor_watch(text).await
            && WANTED.get() > 0
        {
            link.anchor_watch.set(Some(*page));
            link.anchor_heard_ms.set(Some(BrowserClock.now_ms()));
        }
    }
    IS_READING.set(false);
}
