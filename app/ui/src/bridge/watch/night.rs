//! The night as it was: minutes with a slider, and each alarm with who saw it after how long.

use crate::office::head::OfficeHead;
use crate::parts::Empty;
use crate::port::{Source, source};
use crate::words::anchor as words;
use crate::{time, words as common};
use journal::address;
use journal::watch::{NightAlarm, NightPage as Page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

fn alarm_row(alarm: &NightAlarm) -> impl IntoView + use<> {
    let seen = match (&alarm.seen_by, alarm.seen_after_s) {
        (Some(who), Some(after_s)) => words::seen_after(who, &time::span(after_s * 1000)),
        _ => words::NOBODY_SAW.to_owned(),
    };
    view! {
        <tr>
            <td>{time::date_clock(alarm.at_ms)}</td>
            <th scope="row">{words::level(alarm.level)}</th>
            <td class="watch-sentence" data-text="alarm">{alarm.text.clone()}</td>
            <td>{seen}</td>
        </tr>
    }
}

fn body(page: Page) -> impl IntoView {
    let last = page.minutes.len().saturating_sub(1);
    let at = RwSignal::new(last);
    let half = page.half_m;
    let alarms = page.alarms.iter().map(alarm_row).collect_view();
    let minutes = StoredValue::new(page.minutes);
    let with = move |pick: &dyn Fn(&journal::watch::NightMinute) -> String| {
        let at = at.get();
        minutes.with_value(|minutes| minutes.get(at).map(pick).unwrap_or_default())
    };
    let said = move || {
        with(&|minute| {
            format!(
                "{} UTC: {}",
                time::date_clock_s(minute.at_ms).trim_end_matches(" UTC"),
                minute.said
            )
        })
    };
    let east = move || with(&|minute| minute.east_m.to_string());
    let south = move || with(&|minute| (-minute.north_m).to_string());
    let slide = move |event| {
        if let Ok(chosen) = event_target_value(&event).parse::<usize>() {
            at.set(chosen.min(last));
        }
    };
    view! {
        <figure class="watch-plot">
            <svg viewBox=format!("{0} {0} {1} {1}", -half, 2.0 * half) role="img" aria-label=words::NIGHT_PLOT>
                <path class="watch-trail" d=page.path />
                <circle class="watch-anchor" r=half / 60.0 />
                <circle class="watch-hawse" cx=east cy=south r=half / 40.0 />
            </svg>
        </figure>
        <label class="watch-slider">
            {words::SLIDE}
            <input type="range" min="0" max=last prop:value=at on:input=slide />
        </label>
        <output class="watch-night-said">{said}</output>
        <h2>{words::ALARMS}</h2>
        <table class="watch-table">
            <tbody>{alarms}</tbody>
        </table>
    }
}

/// The page of the night.
#[component]
pub fn NightPage() -> impl IntoView {
    let night = Resource::new(|| (), {
        let source: Source = source();
        move |()| {
            let source = source.clone();
            async move { source.get(address::WATCH_NIGHT.at([])).await }
        }
    });
    view! {
        <Title text=words::NIGHT />
        <div class="office ship">
            <OfficeHead />
            <main class="office-main watch-inputs">
                <h1>{words::NIGHT}</h1>
                <p class="quiet">{words::NIGHT_BODY}</p>
                <p>
                    <A href="/watch" attr:class="plan-way">{words::WATCH}</A>
                    " "
                    <a href="/watch.csv" rel="external">{words::MINUTES}</a>
                </p>
                <Suspense fallback=|| view! { <Empty head=common::LOADING body="" /> }>
                    {move || Suspend::new(async move {
                        match night.await {
                            Ok(page) if page.minutes.is_empty() && page.alarms.is_empty() => {
                                view! { <Empty head=words::NO_NIGHT body="" /> }.into_any()
                            }
                            Ok(page) => body(page).into_any(),
                            Err(why) => view! { <Empty head=words::NOT_REACHED body=why /> }.into_any(),
                        }
                    })}
                </Suspense>
            </main>
        </div>
    }
}
