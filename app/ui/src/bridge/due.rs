//! What is past its date or soon will be, on the bridge's board, from this device's records.

use crate::parts::{StatusWord, Tone};
use crate::port::device;
use crate::time;
use crate::words::{gear, ship as words};
use journal::due::{DueRow, DueWhat, due};
use leptos::prelude::*;
use leptos_router::components::A;

const DAY_MS: i64 = 86_400_000;
/// So many lines are shown.
const SHOWN: usize = 8;

fn line(row: &DueRow) -> impl IntoView + use<> {
    let (tone, word) = if row.is_past() {
        (Tone::Alarm, words::PAST)
    } else {
        (Tone::Wait, words::SOON)
    };
    let (to, name, when) = match &row.what {
        DueWhat::Item {
            code,
            name,
            date,
            day,
        } => {
            let when = gear::ends(&gear::date(*date).to_string(), &day.to_string());
            (format!("/gear/{code}"), name.clone(), when)
        }
        DueWhat::Defect { text, due } => ("/defects".to_owned(), text.clone(), words::due(*due)),
        DueWhat::Accepted { text, until_ms } => {
            let when = words::acceptance_past(&time::date_clock(*until_ms));
            ("/defects".to_owned(), text.clone(), when)
        }
    };
    let holds = (!row.holds.is_empty()).then(|| {
        let said = words::holds_up(&row.holds.join(", "));
        view! { <p data-text="procedure">{said}</p> }
    });
    view! {
        <li class="due-line">
            <StatusWord tone word=word.to_string() />
            " "
            <A href=to>
                <span data-text="name">{name}</span>
            </A>
            <span class="quiet">{when}</span>
            {holds}
        </li>
    }
}

/// The lines, where there are any.
#[component]
pub fn DueLines() -> impl IntoView {
    let device = device();
    let rows = Memo::new(move |_| {
        let today = device.system.now_ms.get().div_euclid(DAY_MS) * DAY_MS;
        let ledger = device.records.ledger;
        ledger.with(|ledger| {
            ledger
                .as_ref()
                .map(|ledger| due(ledger, today))
                .unwrap_or_default()
        })
    });
    move || {
        rows.with(|rows| {
            let lines: Vec<_> = rows.iter().take(SHOWN).map(line).collect();
            let more = rows.len().saturating_sub(SHOWN);
            (!rows.is_empty()).then(|| {
                view! {
                    <section class="bridge-due">
                        <h2 class="bridge-heading">{words::DUE_LINES}</h2>
                        <ul>{lines}</ul>
                        {(more > 0).then(|| view! { <p class="quiet">{words::due_more(more)}</p> })}
                    </section>
                }
            })
        })
    }
}
