//! The ship's settings: each with its value, its source, and who confirmed it.

mod cables;

use super::in_force::{InForceForm, change_settings};
use crate::parts::{StatusWord, Tone};
use crate::port::device;
use crate::words::{Word, ship as words};
use cables::CableRows;
use journal::address;
use journal::catalogue::{self, SettingRow, SettingsPage as Page};
use leptos::prelude::*;
use leptos_meta::Title;
use procedure::{Decimal, Role, SettingValue, Settings};

fn row(row: SettingRow, settings: StoredValue<Settings>) -> impl IntoView {
    let device = device();
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let (tone, said) = match (&row.set, row.value.confirmed) {
        (Some(set), true) => (Tone::Done, words::in_force(&set.by, set.at_ms)),
        _ => (Tone::Wait, words::NOT_CONFIRMED.to_owned()),
    };
    let value = format!("{} {}", row.value.value, row.value.unit);
    let (key, kept) = (row.key.clone(), row.value.clone());
    view! {
        <tr>
            <th scope="row">
                {row.words} <span class="quiet">{row.key}</span>
            </th>
            <td class="is-number">{value}</td>
            <td>
                {row.value.source} <span class="quiet">", " {row.value.edition}</span>
            </td>
            <td>
                <StatusWord tone word=said />
                {move || {
                    is_master()
                        .then(|| {
                            view! { <Change key=key.clone() kept=kept.clone() settings /> }
                        })
                }}
            </td>
        </tr>
    }
}

#[component]
fn Change(key: String, kept: SettingValue, settings: StoredValue<Settings>) -> impl IntoView {
    let device = device();
    let value = RwSignal::new(kept.value.to_string());
    let source = RwSignal::new(kept.source.clone());
    let edition = RwSignal::new(kept.edition.clone());
    let unit = kept.unit.clone();
    let changed = move || {
        let value: Decimal = value.get().trim().parse().map_err(|_| words::NO_NUMBER)?;
        let source = source.get().trim().to_owned();
        if source.is_empty() {
            return Err(words::NO_SOURCE_GIVEN);
        }
        Ok(SettingValue {
            value,
            unit: unit.clone(),
            source,
            edition: edition.get().trim().to_owned(),
            confirmed: true,
        })
    };
    let checked = changed.clone();
    let why_not = Memo::new(move |_| checked().err().map(Word::to_owned));
    let put = move |()| {
        if let Ok(new) = changed() {
            device.dispatch(change_settings(settings, |all| all.set(key.clone(), new)));
        }
    };
    let field = |label: &'static str, text: RwSignal<String>| {
        view! {
            <label class="field">
                <span>{label}</span>
                <input
                    type="text"
                    prop:value=text
                    on:input:target=move |event| text.set(event.target().value())
                />
            </label>
        }
    };
    view! {
        <InForceForm summary=words::CHANGE.text() why_not on_held=put>
            {field(words::VALUE.text(), value)} {field(words::SOURCE.text(), source)}
            {field(words::SOURCE_EDITION.text(), edition)}
        </InForceForm>
    }
}

fn body(page: Page) -> impl IntoView {
    let settings = StoredValue::new(page.settings);
    let rows = page
        .rows
        .into_iter()
        .map(|one| row(one, settings))
        .collect_view();
    view! {
        <div class="office-title">
            <h1>{words::SETTINGS}</h1>
            <p class="quiet">{words::SETTINGS_BODY}</p>
            <p class="quiet">{words::ONLY_MASTER}</p>
        </div>
        <div class="table-frame">
            <table class="table">
                <thead>
                    <tr>
                        <th scope="col">{words::SETTING}</th>
                        <th scope="col">{words::VALUE}</th>
                        <th scope="col">{words::SOURCE}</th>
                        <th scope="col">{words::SET_BY}</th>
                    </tr>
                </thead>
                <tbody>{rows}</tbody>
            </table>
        </div>
        <CableRows settings />
    }
}

/// The page of the ship's settings.
#[component]
pub fn SettingsPage() -> impl IntoView {
    view! {
        <Title text=words::SETTINGS />
        {super::shown(
            || address::SETTINGS.at([]),
            |ledger| Some(catalogue::settings_page(ledger)),
            body,
        )}
    }
}
