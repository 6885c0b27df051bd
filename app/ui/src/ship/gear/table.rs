//! The table of the register: out as a file, in as one that is pasted or chosen.

use super::keeps;
use crate::parts::HoldButton;
use crate::port::{MediaCommand, RecordCommand, device};
use crate::words::gear as words;
use journal::gear::{read_table, write_table};
use leptos::prelude::*;
use std::fmt::Write as _;

/// The id of the input that takes a file.
const INPUT: &str = "gear-file";

/// Makes an address that holds the table itself, so that it can be kept where no ship is heard.
fn address_of(table: &str) -> String {
    let mut out = "data:text/csv;charset=utf-8,".to_owned();
    for byte in table.bytes() {
        if byte.is_ascii_alphanumeric() {
            out.push(char::from(byte));
        } else {
            // Writing to a String cannot fail.
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

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
    view! {
        <details class="order-more gear-table">
            <summary>{words::TABLE}</summary>
            <p class="quiet">{words::TABLE_BODY}</p>
            <p>
                <a href=out download="gear.csv" rel="external" class="button">
                    {words::TABLE_OUT}
                </a>
            </p>
            {move || keeps(device).then(|| view! { <TakeIn /> })}
        </details>
    }
}

#[component]
fn TakeIn() -> impl IntoView {
    let device = device();
    let text = RwSignal::new(String::new());
    let reason = RwSignal::new(String::new());
    Effect::new(move |_| {
        if let Some(read) = device.media.text.get() {
            text.set(read);
            device.media.text.set(None);
        }
    });
    let read = Memo::new(move |_| {
        let text = text.get();
        if text.trim().is_empty() {
            return None;
        }
        let now_ms = device.system.now_ms.get_untracked();
        let me = device.me().map(|me| me.person).unwrap_or_default();
        device.records.ledger.with(|ledger| {
            let register = ledger.as_ref()?.register();
            Some(read_table(
                register,
                &text,
                &format!("{me} {now_ms}"),
                now_ms,
            ))
        })
    });
    let said = move || match read.get() {
        None => ().into_any(),
        Some(Ok(filled)) => {
            view! { <p class="gear-in-order">{words::table_reads(filled.changes.len())}</p> }
                .into_any()
        }
        Some(Err(faults)) => {
            let lines = faults
                .iter()
                .map(|fault| view! { <li>{fault.to_string()}</li> });
            view! { <ul class="mistakes" data-text="table">{lines.collect_view()}</ul> }.into_any()
        }
    };
    let is_blank = move || reason.with(|reason| reason.trim().is_empty());
    let take = move |()| {
        if let Some(Ok(filled)) = read.get_untracked() {
            device.dispatch(RecordCommand::Gear {
                changes: filled.changes,
                reason: reason.get_untracked().trim().to_owned(),
            });
            text.set(String::new());
            reason.set(String::new());
        }
    };
    view! {
        <div class="order">
            <label class="field">
                <span>{words::TABLE_PASTE}</span>
                <textarea
                    id="gear-table-text"
                    class="procedure-text"
                    rows="6"
                    prop:value=text
                    on:input:target=move |event| text.set(event.target().value())
                ></textarea>
            </label>
            <label class="field">
                <span>{words::TABLE_FILE}</span>
                <input
                    id=INPUT
                    type="file"
                    accept=".csv,text/csv,text/plain"
                    on:change=move |_| {
                        device.dispatch(MediaCommand::ReadText { input: INPUT.to_owned() });
                    }
                />
            </label>
            {said}
            <label class="field">
                <span>{words::WHY}</span>
                <input
                    type="text"
                    id="gear-table-why"
                    prop:value=reason
                    on:input:target=move |event| reason.set(event.target().value())
                />
            </label>
            <HoldButton
                label=words::TABLE_TAKE.text()
                disabled=Signal::derive(move || {
                    device.records.saving.get() || is_blank() || !matches!(read.get(), Some(Ok(_)))
                })
                on_held=take
            />
        </div>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_table_stands_in_its_address_as_it_is() {
        assert_eq!(
            address_of("a,ü\r\n"),
            "data:text/csv;charset=utf-8,a%2C%C3%BC%0D%0A"
        );
    }
}
