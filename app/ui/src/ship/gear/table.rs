//! The table of the register: out as a file, in as one that is pasted or chosen.

use super::keeps;
use crate::port::{RecordCommand, device};
use crate::ship::take_in::{TakeIn, Taken, address_of};
use crate::words::gear as words;
use journal::Ledger;
use journal::gear::{TableFault, read_table, write_table};
use leptos::prelude::*;

/// Gives the table out, and takes one in from who keeps the register.
#[component]
pub fn Table() -> impl IntoView {
    let device = device();
    let out = move || {
        device.records.ledger.with(|ledger| {
            let table = ledger.as_ref().map(|ledger| write_table(ledger.register()));
            table.map_or_else(|| "/gear.csv".to_owned(), |table| address_of(&table))
        })
    };
    let read = move |ledger: &Ledger, text: &str, reason: &str| -> Result<Taken, Vec<TableFault>> {
        let now_ms = device.system.now_ms.get_untracked();
        let me = device.me().map(|me| me.person).unwrap_or_default();
        let filled = read_table(ledger.register(), text, &format!("{me} {now_ms}"), now_ms)?;
        Ok(Taken {
            said: words::table_reads(filled.changes.len()),
            command: RecordCommand::Gear {
                changes: filled.changes,
                reason: reason.to_owned(),
            },
        })
    };
    view! {
        <details class="order-more gear-table">
            <summary>{words::TABLE}</summary>
            <p class="quiet">{words::TABLE_BODY}</p>
            <p>
                <a href=out download="gear.csv" rel="external" class="button">
                    {words::TABLE_OUT}
                </a>
            </p>
            {move || {
                keeps(device)
                    .then(|| {
                        view! { <TakeIn id="gear" key=words::TABLE_TAKE asks_why=Some(words::WHY) read /> }
                    })
            }}
        </details>
    }
}
