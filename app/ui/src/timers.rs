//! The times that run in a run, where everyone sees them: over the bow's sheet and on the bridge's card.

use crate::time;
use leptos::prelude::*;
use procedure::{Countdown, CountdownKind, RunView};

/// Returns the waits and timers that run, the soonest first.
pub fn running(view: &RunView) -> Vec<Countdown> {
    let waits = view.countdowns.iter();
    waits
        .filter(|countdown| countdown.what == CountdownKind::Wait)
        .cloned()
        .collect()
}

/// The times that run, counting down.
#[component]
pub fn Timers(
    /// What runs; drawn anew only when it changes.
    running: Memo<Vec<Countdown>>,
    /// The clock by which it ends, ms UTC.
    #[prop(into)]
    now_ms: Signal<i64>,
) -> impl IntoView {
    let line = move |one: Countdown| {
        let ends = one.ends_at_ms;
        view! {
            <p class="timer" data-step=one.step.as_str().to_owned()>
                <span class="timer-left">{move || time::countdown(ends - now_ms.get())}</span>
                " "
                {one.words}
            </p>
        }
    };
    move || {
        let all = running.get();
        (!all.is_empty()).then(|| {
            view! {
                <div class="timers" role="timer">
                    {all.into_iter().map(line).collect_view()}
                </div>
            }
        })
    }
}
