//! The watch in one line, for the bridge's board.

use crate::parts::Tone;
use crate::parts::status_word::ToneShape;
use crate::port::{device, source};
use crate::words::anchor as words;
use journal::address;
use journal::watch::WatchPage;
use leptos::prelude::*;
use leptos::task::spawn_local;
use leptos_router::components::A;

/// How often the board asks for its line, ms: a second stream for each board would be too many for a browser.
const LINE_MS: i64 = 10_000;

/// What the watch is in one line; none while no anchor is watched and nothing stands.
fn line(page: &WatchPage) -> Option<(Tone, String)> {
    let worst = page.alarms.iter().find(|line| !line.is_over);
    if page.since_ms.is_none() && worst.is_none() {
        return None;
    }
    let said = match (worst, page.distance_m, page.allowed_m) {
        (Some(alarm), ..) => format!("{}: {}", words::level(alarm.level), alarm.text),
        (None, Some(is), Some(may)) => {
            let of = words::of_allowed(&is.to_string(), &may.to_string());
            format!("{}: {of}", words::DISTANCE)
        }
        _ => words::NOT_KNOWN.to_owned(),
    };
    let is_grave = worst.is_some_and(|line| line.level >= 2);
    Some((if is_grave { Tone::Alarm } else { Tone::Calm }, said))
}

/// The watch in one line, for the bridge's board: nothing while no anchor is watched and nothing stands.
#[component]
pub fn WatchLine() -> impl IntoView {
    let device = device();
    let turn = Memo::new(move |_| device.system.now_ms.get() / LINE_MS);
    let source = source();
    // An effect asks, in a browser alone: a resource that only browsers have would keep the server from drawing the board.
    let answer = RwSignal::new(None::<Result<WatchPage, String>>);
    Effect::new(move |_| {
        turn.track();
        let source = source.clone();
        spawn_local(async move {
            let said = source.get(address::WATCH.at([])).await;
            // A board that was left meanwhile asks no more.
            answer.try_set(Some(said));
        });
    });
    let said = Memo::new(move |before: Option<&Option<(Tone, String)>>| {
        answer.with(|answer| match answer {
            Some(Ok(page)) => line(page),
            Some(Err(why)) if before.is_some_and(Option::is_some) => {
                Some((Tone::Alarm, format!("{}: {why}", words::NOT_REACHED)))
            }
            // Nothing was watched as far as the board knows, or the answer is on its way.
            Some(Err(_)) => None,
            None => before.cloned().flatten(),
        })
    });
    move || {
        said.get().map(|(tone, said)| {
            view! {
                <p class=format!("watch-line banner {}", tone.class())>
                    <ToneShape tone />
                    <span class="banner-text" data-text="watch">{said}</span>
                    <A href="/watch" attr:class="button is-quiet">{words::WATCH}</A>
                </p>
            }
        })
    }
}
