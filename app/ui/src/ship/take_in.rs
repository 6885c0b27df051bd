//! A table that is given out, or taken in whole: pasted, or read from a file.

use crate::parts::HoldButton;
use crate::port::{MediaCommand, RecordCommand, device};
use crate::words::{Word, gear as words};
use journal::Ledger;
use journal::gear::TableFault;
use leptos::prelude::*;
use std::fmt::Write as _;
use std::sync::Arc;

/// Makes an address that holds the table itself, so that it can be kept where no ship is heard.
pub fn address_of(table: &str) -> String {
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

/// What comes of a table that is in order.
pub struct Taken {
    /// What is in it, in words.
    pub said: String,
    /// What puts it on record.
    pub command: RecordCommand,
}

/// Reads a table with the reason for which it is taken in.
type Reads = dyn Fn(&Ledger, &str, &str) -> Result<Taken, Vec<TableFault>> + Send + Sync;

/// Takes a table in. There is one on a page.
#[component]
pub fn TakeIn<R>(
    /// How its fields' names begin.
    id: &'static str,
    /// What the key says.
    key: Word,
    /// What is asked for the reason; none where no reason is kept.
    asks_why: Option<Word>,
    /// Reads the table.
    read: R,
) -> impl IntoView
where
    R: Fn(&Ledger, &str, &str) -> Result<Taken, Vec<TableFault>> + Send + Sync + 'static,
{
    taken_in(id, key, asks_why, Arc::new(read))
}

fn taken_in(id: &'static str, key: Word, asks_why: Option<Word>, read: Arc<Reads>) -> AnyView {
    let device = device();
    let text = RwSignal::new(String::new());
    let reason = RwSignal::new(String::new());
    Effect::new(move |_| {
        if let Some(read) = device.media.text.get() {
            text.set(read);
            device.media.text.set(None);
        }
    });
    let reads = move |text: &str, reason: &str| {
        let ledger = device.records.ledger;
        ledger.with_untracked(|ledger| Some(read(ledger.as_ref()?, text, reason)))
    };
    let look = reads.clone();
    let seen = Memo::new(move |_| {
        device.records.ledger.track();
        let text = text.get();
        let is_there = !text.trim().is_empty();
        let seen = is_there.then(|| look(&text, "")).flatten();
        seen.map(|seen| seen.map(|taken| taken.said))
    });
    let said = move || match seen.get() {
        None => ().into_any(),
        Some(Ok(said)) => view! { <p class="gear-in-order">{said}</p> }.into_any(),
        Some(Err(faults)) => {
            let lines = faults
                .iter()
                .map(|fault| view! { <li>{fault.to_string()}</li> });
            view! { <ul class="mistakes" data-text="table">{lines.collect_view()}</ul> }.into_any()
        }
    };
    let is_blank = move || asks_why.is_some() && reason.with(|reason| reason.trim().is_empty());
    let take = move |()| {
        let why = reason.get_untracked();
        if let Some(Ok(taken)) = reads(&text.get_untracked(), why.trim()) {
            device.dispatch(taken.command);
            text.set(String::new());
            reason.set(String::new());
        }
    };
    let input = format!("{id}-file");
    let asked = input.clone();
    let why = asks_why.map(|why| {
        view! {
            <label class="field">
                <span>{why}</span>
                <input
                    type="text"
                    id=format!("{id}-table-why")
                    prop:value=reason
                    on:input:target=move |event| reason.set(event.target().value())
                />
            </label>
        }
    });
    view! {
        <div class="order">
            <label class="field">
                <span>{words::TABLE_PASTE}</span>
                <textarea
                    id=format!("{id}-table-text")
                    class="procedure-text"
                    rows="6"
                    prop:value=text
                    on:input:target=move |event| text.set(event.target().value())
                ></textarea>
            </label>
            <label class="field">
                <span>{words::TABLE_FILE}</span>
                <input
                    id=input
                    type="file"
                    accept=".csv,text/csv,text/plain"
                    on:change=move |_| {
                        device.dispatch(MediaCommand::ReadText { input: asked.clone() });
                    }
                />
            </label>
            {said}
            {why}
            <HoldButton
                label=key.text()
                disabled=Signal::derive(move || {
                    device.records.saving.get() || is_blank() || !matches!(seen.get(), Some(Ok(_)))
                })
                on_held=take
            />
        </div>
    }
    .into_any()
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
