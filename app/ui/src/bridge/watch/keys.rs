//! The keys of the watch: each is a record that whoever presses it signs.

use super::{Heard, is_officer, say};
use crate::parts::HoldButton;
use crate::port::{RecordCommand, device};
use crate::words::anchor as words;
use journal::watch::{WatchPage, WatchSaid};
use leptos::prelude::*;
use leptos_router::NavigateOptions;
use leptos_router::hooks::use_navigate;
use procedure::Event;

/// The procedure that a dragging anchor is worked by.
const DRAGGING: &str = "dragging";

/// What the watch knows, in words: the first message of a run of 'Dragging'.
fn known(page: &WatchPage) -> String {
    let alarms = page.alarms.iter().filter(|line| !line.is_over);
    let mut all: Vec<String> = alarms.map(|line| line.text.clone()).collect();
    if let Some((is, may)) = page.distance_m.zip(page.allowed_m) {
        all.push(words::of_allowed(&is.to_string(), &may.to_string()));
    }
    let figures = [
        (words::CABLE_OUT, page.cable_m, "m"),
        (words::WIND, page.wind_kn[0], "kn"),
        (words::UNDER_KEEL, page.depth_m[1], "m"),
    ];
    for (name, value, unit) in figures {
        all.extend(value.map(|value| format!("{name} {value:.1} {unit}")));
    }
    words::as_watched(&all.join("; "))
}

/// The keys.
#[component]
pub fn Keys(heard: Heard) -> impl IntoView {
    let device = device();
    let navigate = use_navigate();
    let with = move |pick: &dyn Fn(&WatchPage)| {
        heard.with_untracked(|page| page.iter().for_each(pick));
    };
    let told = RwSignal::new(None::<String>);
    Effect::new(move |_| {
        if let (Some(run), Some(text)) = (device.records.started.get(), told.get_untracked()) {
            device.records.started.set(None);
            told.set(None);
            let event = Box::new(Event::Message {
                step: None,
                text,
                photo: None,
                voice: None,
            });
            device.dispatch(RecordCommand::Say { run, event });
            navigate(&format!("/bow/run/{run}"), NavigateOptions::default());
        }
    });
    let set = move |here: Option<(i32, i32)>, cable_cm: Option<u32>| {
        with(&|page| {
            let said = WatchSaid::Set {
                latitude_e7: here.map(|here| here.0),
                longitude_e7: here.map(|here| here.1),
                cable_cm,
                why: words::BY_KEY.to_owned(),
            };
            say(device, page.now_ms, said);
        });
    };
    let here = move || heard.with(|page| page.as_ref().and_then(|page| page.here_e7));
    let anchor_here = move |()| {
        if let Some(here) = heard.with_untracked(|page| page.as_ref().and_then(|page| page.here_e7))
        {
            set(Some(here), None);
        }
    };
    let drag = move |()| {
        with(&|page| told.set(Some(known(page))));
        device.dispatch(RecordCommand::Start {
            slug: DRAGGING.to_owned(),
            choices: Vec::new(),
        });
    };
    let call = move |()| {
        with(&|page| {
            let words = words::CALLED_FROM.to_owned();
            say(device, page.now_ms, WatchSaid::Call { words });
        });
    };
    let taken = move |_| with(&|page| say(device, page.now_ms, WatchSaid::Taken));
    let end = move |()| {
        with(&|page| {
            let why = words::BY_KEY.to_owned();
            say(device, page.now_ms, WatchSaid::End { why });
        });
    };
    let typed = RwSignal::new(String::new());
    // Between a metre and what the longest cable has.
    let cable_cm = move || {
        let metres: f64 = typed.get().trim().parse().ok()?;
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "from 1 to 2000 m"
        )]
        let cm = (metres * 100.0).round() as u32;
        (1.0..=2000.0).contains(&metres).then_some(cm)
    };
    let may = Memo::new(move |_| is_officer(device));
    let is_on = Memo::new(move |_| {
        heard.with(|page| page.as_ref().is_some_and(|page| page.since_ms.is_some()))
    });
    view! {
        <section class="watch-keys not-printed">
            <HoldButton
                label=words::ANCHOR_HERE
                disabled=Signal::derive(move || here().is_none() || !may.get())
                on_held=anchor_here
            />
            <HoldButton label=words::DRAGGING on_held=drag />
            <HoldButton label=words::CALL_MASTER on_held=call />
            <button type="button" class="button" on:click=taken>{words::TAKE_OVER}</button>
            <form
                class="watch-cable"
                on:submit=move |event| {
                    event.prevent_default();
                    if let Some(cm) = cable_cm() {
                        set(None, Some(cm));
                        typed.set(String::new());
                    }
                }
            >
                <label>
                    {words::CABLE_CHANGED} ": " {words::CABLE_METRES}
                    <input
                        inputmode="decimal"
                        prop:value=typed
                        on:input=move |event| typed.set(event_target_value(&event))
                    />
                </label>
                <button type="submit" class="button" disabled=move || cable_cm().is_none() || !may.get()>
                    {words::PUT_DOWN}
                </button>
            </form>
            {move || is_on.get().then(|| view! { <HoldButton label=words::END_WATCH disabled=Signal::derive(move || !may.get()) on_held=end /> })}
            {move || (!may.get()).then(|| view! { <p class="quiet">{words::OFFICERS_KEY}</p> })}
        </section>
    }
}
