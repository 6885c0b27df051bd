//! The ship's settings: each with its value, its source, and who confirmed it.

mod cables;

use super::in_force::{InForceForm, change_settings};
use super::take_in::{TakeIn, Taken, address_of};
use crate::parts::{Caution, Defer, HoldButton, StatusWord, Tone};
use crate::port::{RecordCommand, device};
use crate::words::ship as words;
use cables::CableRows;
use journal::Ledger;
use journal::address;
use journal::catalogue::{self, SettingRow, SettingsPage as Page};
use journal::gear::TableFault;
use journal::limits_table::{read_limits, write_limits};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use procedure::{Decimal, Role, SettingBounds, SettingGroup, SettingValue, Settings, Standing};
use std::collections::BTreeSet;

/// What the master has marked as right as it is, by name: it outlasts what news draws anew.
type Marked = RwSignal<BTreeSet<String>>;

/// The key that marks a value as right: it is put in force together with the others.
fn mark_key(key: String, marked: Marked) -> impl IntoView {
    let mine = key.clone();
    view! {
        <button
            type="button"
            class="button is-quiet"
            aria-pressed=move || marked.with(|all| all.contains(&mine)).to_string()
            on:click=move |_| {
                marked
                    .update(|all| {
                        if !all.remove(&key) {
                            all.insert(key.clone());
                        }
                    });
            }
        >
            {words::RIGHT_AS_IT_IS}
        </button>
    }
}

/// Puts all that is marked in force by one record.
#[component]
fn ConfirmMarked(settings: StoredValue<Settings>, marked: Marked) -> impl IntoView {
    let device = device();
    let put = move |()| {
        let names = marked.get_untracked();
        device.dispatch(change_settings(settings, |all| {
            for name in &names {
                if let Some(mut value) = all.get(name).cloned() {
                    value.confirmed = true;
                    all.set(name.clone(), value);
                }
            }
        }));
        marked.set(BTreeSet::new());
    };
    let count = Memo::new(move |_| marked.with(BTreeSet::len));
    move || {
        (count.get() > 0).then(|| {
            view! {
                <div class="settings-marked">
                    <HoldButton
                        label=words::confirm_marked(count.get(), &count.get().to_string())
                        disabled=Signal::derive(move || device.records.saving.get())
                        on_held=put
                    />
                </div>
            }
        })
    }
}

fn row(row: SettingRow, settings: StoredValue<Settings>, marked: Marked) -> impl IntoView {
    let device = device();
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let (tone, said) = match (&row.set, row.value.confirmed) {
        (Some(set), true) => (Tone::Done, words::in_force(&set.by, set.at_ms)),
        _ => (Tone::Wait, words::NOT_CONFIRMED.to_owned()),
    };
    let value = format!("{} {}", row.value.value, row.value.unit);
    let (key, kept) = (row.key.clone(), row.value.clone());
    let is_open = tone == Tone::Wait;
    view! {
        <tr>
            <th scope="row">
                {row.words} <span class="quiet">{row.key}</span>
            </th>
            <td class="is-number">{value}</td>
            <td>
                {row.value.source} <span class="quiet">", " {row.value.edition}</span>
                {(!row.value.reason.is_empty())
                    .then(|| view! { <p class="sheet-words">{row.value.reason}</p> })}
            </td>
            <td>
                <StatusWord tone word=said />
                {move || {
                    is_master()
                        .then(|| {
                            view! {
                                {is_open.then(|| mark_key(key.clone(), marked))}
                                <Change key=key.clone() kept=kept.clone() settings />
                            }
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
    let reason = RwSignal::new(kept.reason.clone());
    let bounds = SettingBounds::of(&key);
    let judged = {
        let bounds = bounds.clone();
        move |value: Decimal| bounds.as_ref().map_or(Standing::Usual, |b| b.judge(value))
    };
    let typed = move || value.get().trim().parse::<Decimal>();
    let wants_reason = {
        let judged = judged.clone();
        Memo::new(move |_| typed().is_ok_and(|value| judged(value) == Standing::WantsReason))
    };
    let changed = {
        let (bounds, kept) = (bounds.clone(), kept.clone());
        move || {
            let value = typed().map_err(|_| words::NO_NUMBER.to_owned())?;
            let standing = judged(value);
            if let (Some(bounds), Standing::Refused) = (&bounds, &standing) {
                return Err(words::out_of_bounds(bounds, &kept.unit));
            }
            let source = source.get().trim().to_owned();
            if source.is_empty() {
                return Err(words::NO_SOURCE_GIVEN.to_owned());
            }
            // The number is another one: what the old one came from does not vouch for it.
            if value != kept.value && source == kept.source {
                return Err(words::source_of(&kept.value.to_string()));
            }
            let reason = match standing {
                Standing::WantsReason => reason.get().trim().to_owned(),
                _ => String::new(),
            };
            if standing == Standing::WantsReason && reason.is_empty() {
                return Err(words::WHY_UNUSUAL.to_owned());
            }
            Ok(SettingValue {
                value,
                unit: kept.unit.clone(),
                source,
                edition: edition.get().trim().to_owned(),
                confirmed: true,
                reason,
            })
        }
    };
    let checked = changed.clone();
    let why_not = Memo::new(move |_| checked().err());
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
            <Caution text=words::SETTINGS_CAUTION />
            {bounds.map(|bounds| view! { <p class="quiet">{words::bounds(&bounds, &kept.unit)}</p> })}
            <Show when=move || wants_reason.get()>{field(words::REASON.text(), reason)}</Show>
        </InForceForm>
    }
}

/// The settings of one group, with the key that marks all of them that nobody has confirmed yet.
fn part(
    group: SettingGroup,
    rows: Vec<SettingRow>,
    settings: StoredValue<Settings>,
    marked: Marked,
) -> impl IntoView {
    let device = device();
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let open = rows
        .iter()
        .filter(|row| row.set.is_none() || !row.value.confirmed);
    let open: Vec<String> = open.map(|row| row.key.clone()).collect();
    let left = open.len();
    let open = StoredValue::new(open);
    let mark_all = move |_| marked.update(|all| all.extend(open.get_value()));
    let rows = rows.into_iter().map(|one| row(one, settings, marked));
    view! {
        <tbody data-group=format!("{group:?}").to_lowercase()>
            <tr class="settings-group">
                <th scope="rowgroup" colspan="4">
                    {words::group(group)}
                    {move || {
                        (left > 0 && is_master())
                            .then(|| {
                                view! {
                                    <button type="button" class="button is-quiet" on:click=mark_all>
                                        {words::mark_all(left)}
                                    </button>
                                }
                            })
                    }}
                </th>
            </tr>
            {rows.collect_view()}
        </tbody>
    }
}

/// Gives the limits out as a table, and takes a sister ship's in from the master.
#[component]
fn LimitsTable(settings: StoredValue<Settings>) -> impl IntoView {
    let device = device();
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let out = address_of(&settings.with_value(write_limits));
    let read = move |ledger: &Ledger, text: &str, _: &str| -> Result<Taken, Vec<TableFault>> {
        let filled = read_limits(&ledger.settings(), text)?;
        let said = words::limits_read(filled.changed, &filled.cables.len().to_string());
        let json = serde_json::to_string(&filled.settings);
        let json = json.expect("invariant: settings are JSON");
        let command = RecordCommand::Settings { json };
        Ok(Taken { said, command })
    };
    view! {
        <details class="order-more limits-table">
            <summary>{words::LIMITS_TABLE}</summary>
            <p class="quiet">{words::LIMITS_TABLE_BODY}</p>
            <p>
                <a href=out download="limits.csv" rel="external" class="button">
                    {crate::words::gear::TABLE_OUT}
                </a>
            </p>
            {move || {
                is_master()
                    .then(|| view! { <TakeIn id="limits" key=words::LIMITS_TAKE asks_why=None read /> })
            }}
        </details>
    }
}

fn body(page: Page, marked: Marked) -> impl IntoView {
    let settings = StoredValue::new(page.settings);
    let groups = SettingGroup::ALL.map(|group| {
        let rows = page
            .rows
            .iter()
            .filter(|row| SettingGroup::of(&row.key) == group);
        part(group, rows.cloned().collect(), settings, marked)
    });
    view! {
        <div class="office-title">
            <h1>{words::SETTINGS}</h1>
            <p class="quiet">{words::SETTINGS_BODY}</p>
            <p class="quiet">{words::ONLY_MASTER}</p>
            <A href="/setup">{crate::words::setup::SETUP}</A>
            <Caution text=words::SETTINGS_CAUTION />
            <Defer />
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
                {groups.into_iter().collect_view()}
            </table>
        </div>
        <ConfirmMarked settings marked />
        <CableRows settings />
        <LimitsTable settings />
    }
}

/// The page of the ship's settings.
#[component]
pub fn SettingsPage() -> impl IntoView {
    let marked = Marked::new(BTreeSet::new());
    view! {
        <Title text=words::SETTINGS />
        {super::shown(
            || address::SETTINGS.at([]),
            |ledger| Some(catalogue::settings_page(ledger)),
            move |page| body(page, marked),
        )}
    }
}
