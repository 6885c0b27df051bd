//! How an alarm gets out beside this page, and the key that tries all of it.

use super::Heard;
use crate::port::{MediaCommand, device, sender};
use crate::words::anchor as words;
use journal::address;
use leptos::prelude::*;

/// The ways, and the key.
#[component]
pub fn Ways(heard: Heard) -> impl IntoView {
    let device = device();
    let sender = sender();
    let told = RwSignal::new(Vec::<String>::new());
    let ways = Memo::new(move |_| heard.with(|page| page.as_ref().map(|page| page.ways)));
    let said = move || {
        let [horn, sentences] = ways.get().unwrap_or_default();
        let horn = horn.then(|| words::WAY_HORN.to_owned());
        let sentences = sentences.then(|| words::WAY_SENTENCES.to_owned());
        let all: Vec<String> = horn.into_iter().chain(sentences).collect();
        if all.is_empty() {
            words::NO_WAYS.to_owned()
        } else {
            all.join(" ")
        }
    };
    let try_it = move |_| {
        device.dispatch(MediaCommand::Alert);
        let sender = sender.clone();
        leptos::task::spawn_local(async move {
            let answer = sender.post(address::WATCH_TRY.at([]), &String::new()).await;
            told.try_set(answer.unwrap_or_else(|why| vec![why]));
        });
    };
    let lines = move || {
        let line = |line: String| view! { <p role="status" data-text="outcome">{line}</p> };
        told.get().into_iter().map(line).collect_view()
    };
    view! {
        <div class="watch-ways">
            <p>{said}</p>
            <button type="button" class="button" on:click=try_it>
                {words::TRY_ALARM}
            </button>
            {lines}
        </div>
    }
}
