//! What is heard of the ship's instruments: each source, each sentence, its age, its errors.

use crate::office::head::OfficeHead;
use crate::parts::{Empty, StatusWord, Tone};
use crate::port::{Source, device, source};
use crate::words::anchor as words;
use crate::{time, words as common};
use journal::address;
use journal::watch::{InputsPage as Page, SourceLine};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

/// How often the page asks again, ms.
const AGAIN_MS: i64 = 2_000;
/// How sources are given: to be typed as it stands.
const EXAMPLE: &str = "clearhawse serve --instruments gps=udp://0.0.0.0:10110 --instruments mast=tcp://192.168.1.20:2000?main=wind --instruments serial:/dev/ttyUSB0?baud=4800";
/// The same in the settings file.
const EXAMPLE_FILE: &str =
    "instruments = [\"gps=udp://0.0.0.0:10110\", \"mast=tcp://192.168.1.20:2000?main=wind\"]";
/// The quantities, as a source's order counts them.
const QUANTITIES: [&str; 4] = ["position", "heading", "wind", "depth"];

fn age(now_ms: i64, last_ms: Option<i64>) -> String {
    last_ms.map_or_else(
        || words::NEVER_HEARD.to_owned(),
        |last| time::span((now_ms - last).max(0)),
    )
}

fn source_view(now_ms: i64, line: &SourceLine) -> impl IntoView + use<> {
    let (tone, said) = if line.is_open {
        (Tone::Done, words::OPEN.to_owned())
    } else {
        (Tone::Alarm, format!("{}: {}", words::CLOSED, line.trouble))
    };
    let order = QUANTITIES.iter().zip(line.order).map(|(name, place)| {
        let place = if place == 0 {
            words::MAIN
        } else {
            words::STAND_BY
        };
        words::order_of(place.text(), words::quantity(name).text())
    });
    let order = order.collect::<Vec<_>>().join(", ");
    let rows = line.sentences.iter().map(|of| {
        view! {
            <tr class:is-over=of.refused == of.count>
                <th scope="row" data-text="name">{of.name.clone()}</th>
                <td>{of.count}</td>
                <td>{of.refused} " " <small data-text="why">{of.why.clone()}</small></td>
                <td>{age(now_ms, Some(of.last_ms))}</td>
                <td class="watch-sentence" data-text="code">{of.shown.clone()}</td>
            </tr>
        }
    });
    let passed = (line.passed_over > 0).then(|| words::passed_over(&line.passed_over.to_string()));
    view! {
        <section class="watch-source">
            <h2 data-text="name">{line.name.clone()}</h2>
            <p class="quiet"><span data-text="code">{line.road.clone()}</span> ". " {order}</p>
            <StatusWord tone word=format!("{said}, {}", age(now_ms, line.last_ms)) />
            {passed.map(|said| view! { <p>{said}</p> })}
            <div class="table-frame">
                <table class="watch-table">
                    <thead>
                        <tr>
                            <th scope="col">{words::SENTENCE}</th>
                            <th scope="col">{words::COUNT}</th>
                            <th scope="col">{words::REFUSED}</th>
                            <th scope="col">{words::AGE}</th>
                            <th scope="col">{words::LAST}</th>
                        </tr>
                    </thead>
                    <tbody>{rows.collect_view()}</tbody>
                </table>
            </div>
        </section>
    }
}

fn body(page: &Page) -> impl IntoView + use<> {
    let replay = page.replay.map(|times| {
        view! { <p class="bridge-cut" role="alert">{words::replayed(&times.to_string())}</p> }
    });
    let none = page
        .sources
        .is_empty()
        .then(|| view! { <Empty head=words::NO_INPUTS body="" /> });
    let sources = page
        .sources
        .iter()
        .map(|line| source_view(page.now_ms, line));
    view! {
        {replay}
        {none}
        {sources.collect_view()}
    }
}

/// The page of inputs.
#[component]
pub fn InputsPage() -> impl IntoView {
    let device = device();
    let turn = Memo::new(move |_| device.system.now_ms.get() / AGAIN_MS);
    let heard = Resource::new(move || turn.get(), {
        let source: Source = source();
        move |_| {
            let source = source.clone();
            async move { source.get(address::WATCH_INPUTS.at([])).await }
        }
    });
    view! {
        <Title text=words::INPUTS_PAGE />
        <div class="office ship">
            <OfficeHead />
            <main class="office-main watch-inputs">
                <h1>{words::INPUTS_PAGE}</h1>
                <p class="quiet">{words::INPUTS_BODY}</p>
                <A href="/watch" attr:class="plan-way">{words::WATCH}</A>
                <Transition fallback=|| view! { <Empty head=common::LOADING body="" /> }>
                    {move || Suspend::new(async move {
                        match heard.await {
                            Ok(page) => body(&page).into_any(),
                            Err(why) => view! { <Empty head=words::NOT_REACHED body=why /> }.into_any(),
                        }
                    })}
                </Transition>
                <p>{words::INPUTS_HOW}</p>
                <pre data-text="code">{EXAMPLE}</pre>
                <pre data-text="code">{EXAMPLE_FILE}</pre>
            </main>
        </div>
    }
}
