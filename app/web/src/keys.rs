//! A press counts only for what the crew saw: keys of a sheet sleep while they are new, and a press begins and ends
//! on the same key. What sleeps and for how long is judged in [`crate::rest`].

use crate::rest::{Moves, Rest, Seen};
use crate::timer::steady_ms;
use std::cell::{Cell, RefCell};
use std::rc::Rc;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::{
    AddEventListenerOptions, Document, Element, Event, KeyboardEvent, MutationObserver,
    MutationObserverInit, UiEvent,
};

/// The keys that are guarded: those by which something goes on record.
const GUARDED: &str = ".action-sheet button, .hold-act button";
/// What moves within this time after a press was moved by it, ms.
const OWN_MS: f64 = 300.0;
/// Says to the reader of the screen, and to the style, that a key sleeps.
const ASLEEP: &str = "aria-disabled";

struct Guard {
    document: Document,
    rest: RefCell<Rest<Element>>,
    /// The key on which the press began that is under way.
    begun: RefCell<Option<Element>>,
    /// When a key was pressed last.
    pressed_ms: Cell<f64>,
}

/// Guards the keys for as long as the page lives.
pub fn guard(document: &Document) {
    let guard = Rc::new(Guard {
        document: document.clone(),
        rest: RefCell::default(),
        begun: RefCell::default(),
        pressed_ms: Cell::new(f64::MIN),
    });
    guard.watch();
    for name in ["pointerdown", "click", "keydown"] {
        guard.listen(name, |guard, event| guard.judge(&event));
    }
    for name in ["scroll", "resize"] {
        guard.listen(name, |guard, _| guard.look(Moves::Own));
    }
}

impl Guard {
    /// Calls `then` before anything on the page hears of the event.
    fn listen(self: &Rc<Self>, name: &str, then: fn(&Rc<Self>, Event)) {
        let guard = Rc::clone(self);
        let heard = Closure::<dyn FnMut(Event)>::new(move |event| then(&guard, event));
        let options = AddEventListenerOptions::new();
        options.set_capture(true);
        let target = match name {
            "resize" => web_sys::window().map(JsCast::unchecked_into),
            _ => Some(
                self.document
                    .clone()
                    .unchecked_into::<web_sys::EventTarget>(),
            ),
        };
        if let Some(target) = target {
            // Refused only for a name that is no text.
            let _ = target.add_event_listener_with_callback_and_add_event_listener_options(
                name,
                heard.as_ref().unchecked_ref(),
                &options,
            );
        }
        heard.forget(); // for as long as the page lives
    }

    /// Looks whenever the page has changed.
    fn watch(self: &Rc<Self>) {
        let guard = Rc::clone(self);
        let changed = Closure::<dyn FnMut()>::new(move || {
            let is_own = steady_ms() - guard.pressed_ms.get() < OWN_MS;
            guard.look(if is_own { Moves::Own } else { Moves::Count });
        });
        let options = MutationObserverInit::new();
        options.set_child_list(true);
        options.set_subtree(true);
        let observer = MutationObserver::new(changed.as_ref().unchecked_ref());
        if let (Ok(observer), Some(body)) = (observer, self.document.body()) {
            // Refused only for options that ask for nothing.
            let _ = observer.observe_with_options(&body, &options);
        }
        changed.forget(); // for as long as the page lives
    }

    fn look(self: &Rc<Self>, moves: Moves) {
        let Ok(found) = self.document.query_selector_all(GUARDED) else {
            return;
        };
        let keys = (0..found.length()).filter_map(|at| found.item(at)?.dyn_into::<Element>().ok());
        let seen = keys.map(|key| {
            let place = key.get_bounding_client_rect();
            Seen {
                left: place.left(),
                top: place.top(),
                key,
            }
        });
        let now_ms = steady_ms();
        self.rest.borrow_mut().look(seen.collect(), now_ms, moves);
        self.show(now_ms);
    }

    /// Marks the keys that sleep, and looks again when the next one wakes.
    fn show(self: &Rc<Self>, now_ms: f64) {
        let rest = self.rest.borrow();
        for (key, is_awake) in rest.keys(now_ms) {
            let is_marked = key.has_attribute(ASLEEP);
            // Neither fails: the name is one.
            if is_awake && is_marked {
                let _ = key.remove_attribute(ASLEEP);
            } else if !is_awake && !is_marked {
                let _ = key.set_attribute(ASLEEP, "true");
            }
        }
        if let Some(left_ms) = rest.next_ms(now_ms) {
            let guard = Rc::clone(self);
            #[expect(clippy::cast_possible_truncation, reason = "at most a second")]
            let left_ms = left_ms.ceil() as i32;
            wasm_bindgen_futures::spawn_local(async move {
                crate::timer::sleep(left_ms).await;
                guard.show(steady_ms());
            });
        }
    }

    /// Keeps from the page a press that was not meant for the key it comes to.
    fn judge(&self, event: &Event) {
        let now_ms = steady_ms();
        let target = event.target().and_then(|at| at.dyn_into::<Element>().ok());
        let key = target.and_then(|at| at.closest("button").ok().flatten());
        let key = key.filter(|key| key.matches(GUARDED).unwrap_or(false));
        let is_awake = |key: &Element| self.rest.borrow().is_awake(key, now_ms);
        let counts = match (event.type_().as_str(), &key) {
            ("pointerdown", _) => {
                let awake = key.clone().filter(is_awake);
                let counts = key.is_none() || awake.is_some();
                *self.begun.borrow_mut() = awake;
                counts
            }
            (_, None) => true,
            ("keydown", Some(key)) => {
                let pressed = event.dyn_ref::<KeyboardEvent>().map(KeyboardEvent::key);
                is_awake(key) || !matches!(pressed.as_deref(), Some("Enter" | " "))
            }
            // A click that no pointer made comes from the keyboard or from a reader of the screen.
            (_, Some(key)) => match event.dyn_ref::<UiEvent>().map(UiEvent::detail) {
                None | Some(0) => is_awake(key),
                Some(_) => self.begun.borrow().as_ref() == Some(key) && is_awake(key),
            },
        };
        if counts {
            self.pressed_ms.set(now_ms);
        } else {
            event.stop_immediate_propagation();
            if event.type_() != "pointerdown" {
                event.prevent_default();
            }
        }
    }
}
