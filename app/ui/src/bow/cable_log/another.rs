//! A mark out of its turn: missed, seen elsewhere than at the gypsy, or half a length.

use crate::ships_marks::said_paints;
use crate::words;
use leptos::prelude::*;
use procedure::{Cable, Decimal, LogEntry, MarkAt};

/// Where a mark can be seen, the gypsy first: there it counts without being said.
const PLACES: [MarkAt; 4] = [MarkAt::Gypsy, MarkAt::OnDeck, MarkAt::Hawse, MarkAt::Water];

/// Marks that can be said of a cable which nobody has described: as many as a ship of this size can have.
const MARKS_UNDESCRIBED: usize = 14;

/// The keys for any mark of the cable.
#[component]
pub fn AnotherMark(cable: Option<Cable>, log: Callback<LogEntry>) -> impl IntoView {
    let at = RwSignal::new(MarkAt::Gypsy);
    let is_half = RwSignal::new(false);
    let joints = cable.as_ref().map_or(MARKS_UNDESCRIBED, Cable::joints);
    let joints = i64::try_from(joints).unwrap_or_default();
    let places = PLACES
        .map(|place| {
            view! {
                <button
                    type="button"
                    class="button"
                    aria-pressed=move || (at.get() == place).to_string()
                    on:click=move |_| at.set(place)
                >
                    {words::mark_at(place)}
                </button>
            }
        })
        .into_iter()
        .collect_view();
    let keys = (0..=joints)
        .map(|number| {
            let paints = cable
                .as_ref()
                .map_or_else(String::new, |cable| said_paints(cable, number));
            let put = move |_| {
                let (units, digits) = if is_half.get_untracked() {
                    (number * 10 + 5, 1)
                } else {
                    (number, 0)
                };
                let place = at.get_untracked();
                log.run(LogEntry {
                    mark: Decimal::new(units, digits),
                    at: (place != MarkAt::Gypsy).then_some(place),
                    ..LogEntry::default()
                });
            };
            view! {
                <button type="button" class="button mark" on:click=put>
                    <span>{move || words::mark_number(number, is_half.get())}</span>
                    <span class="quiet">{paints}</span>
                </button>
            }
        })
        .collect_view();
    view! {
        <p class="sheet-more">{words::WHICH_MARK}</p>
        <div class="hours">{keys}</div>
        <p class="sheet-more">{words::WHERE_SEEN}</p>
        <div class="sheet-choices is-row">
            {places}
            <button
                type="button"
                class="button"
                aria-pressed=move || is_half.get().to_string()
                on:click=move |_| is_half.update(|half| *half = !*half)
            >
                {words::HALF_MORE}
            </button>
        </div>
    }
}
