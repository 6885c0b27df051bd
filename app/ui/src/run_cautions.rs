//! A procedure's own cautions, at the head of its run.

use crate::parts::Caution;
use crate::words;
use journal::RunCard;
use leptos::prelude::*;

/// The cautions: a line that opens them.
#[component]
pub fn RunCautions(
    /// The run's card.
    card: Memo<Option<RunCard>>,
    /// Whether they stand open while nothing has been done yet.
    #[prop(optional)]
    begins_open: bool,
) -> impl IntoView {
    let cautions = Memo::new(move |_| {
        card.with(|card| {
            let open = card.as_ref().filter(|card| card.view.closed.is_none());
            open.map_or_else(Vec::new, |card| card.view.cautions.clone())
        })
    });
    let is_new = Memo::new(move |_| {
        card.with(|card| {
            card.as_ref()
                .is_some_and(|card| card.view.progress.passed == 0)
        })
    });
    move || {
        let cautions = cautions.get();
        (!cautions.is_empty()).then(|| {
            view! {
                <details class="run-cautions" open=move || begins_open && is_new.get()>
                    <summary>{words::cautions(cautions.len())}</summary>
                    {cautions.into_iter().map(|text| view! { <Caution text /> }).collect_view()}
                </details>
            }
        })
    }
}
