//! Dates by which rounds are due whatever their interval, such as a survey's: the master sets them.

use super::super::in_force::{InForceForm, change_settings};
use crate::parts::HoldButton;
use crate::port::device;
use crate::time;
use crate::words::ship as words;
use chrono::NaiveDate;
use leptos::prelude::*;
use procedure::{DueDate, Role, Settings};

/// The dates that are set, with the master's form.
#[component]
pub fn Dates(
    settings: Settings,
    /// Short name and title of every procedure.
    titles: Vec<(String, String)>,
) -> impl IntoView {
    let device = device();
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let dates = settings.dates.clone();
    let settings = StoredValue::new(settings);
    let title_of = |slug: &str| {
        let found = titles.iter().find(|(known, _)| known == slug);
        found.map_or_else(|| slug.to_owned(), |(_, title)| title.clone())
    };
    let rows = dates
        .iter()
        .map(|date| {
            let said = words::due_between(
                &title_of(&date.slug),
                &time::date_clock(date.opens_at_ms),
                &time::date_clock(date.due_at_ms),
            );
            let gone = date.clone();
            let remove = move |()| {
                device.dispatch(change_settings(settings, |all| {
                    all.dates.retain(|date| *date != gone);
                }));
            };
            let remove = Callback::new(remove);
            view! {
                <li>
                    <p>{said}</p>
                    {move || {
                        is_master()
                            .then(|| {
                                view! {
                                    <HoldButton label=words::TAKE_DATE_OFF on_held=remove />
                                }
                            })
                    }}
                </li>
            }
        })
        .collect_view();
    let titles = StoredValue::new(titles);
    view! {
        <section class="roll-part">
            <h2>{words::DATES}</h2>
            <p class="quiet">{words::DATES_BODY}</p>
            <ul class="crew-list">{rows}</ul>
            {move || is_master().then(|| view! { <DateForm settings titles /> })}
        </section>
    }
}

/// Reads the days of a date: from the beginning of the first to the end of the last, UTC.
fn days(from: &str, until: &str) -> Result<(i64, i64), &'static str> {
    let day = |typed: &str| NaiveDate::parse_from_str(typed.trim(), "%Y-%m-%d");
    let (Ok(from), Ok(until)) = (day(from), day(until)) else {
        return Err(words::NO_DAY.text());
    };
    if until < from {
        return Err(words::DAYS_TURNED.text());
    }
    let begin = from.and_hms_opt(0, 0, 0).ok_or(words::NO_DAY)?;
    let end = until.and_hms_opt(23, 59, 59).ok_or(words::NO_DAY)?;
    Ok((
        begin.and_utc().timestamp_millis(),
        end.and_utc().timestamp_millis(),
    ))
}

#[component]
fn DateForm(
    settings: StoredValue<Settings>,
    titles: StoredValue<Vec<(String, String)>>,
) -> impl IntoView {
    let device = device();
    let first = titles.with_value(|titles| titles.first().map(|(slug, _)| slug.clone()));
    let slug = RwSignal::new(first.unwrap_or_default());
    let (from, until) = (RwSignal::new(String::new()), RwSignal::new(String::new()));
    let read = Memo::new(move |_| days(&from.get(), &until.get()));
    let why_not = Signal::derive(move || read.get().err().map(str::to_owned));
    let add = move |()| {
        let Ok((opens_at_ms, due_at_ms)) = read.get_untracked() else {
            return;
        };
        let date = DueDate {
            slug: slug.get_untracked(),
            opens_at_ms,
            due_at_ms,
        };
        device.dispatch(change_settings(settings, |all| all.dates.push(date)));
    };
    let options = titles.with_value(|titles| {
        titles
            .iter()
            .map(|(slug, title)| view! { <option value=slug.clone()>{title.clone()}</option> })
            .collect_view()
    });
    let day = |label: &'static str, value: RwSignal<String>| {
        view! {
            <label class="field">
                <span>{label}</span>
                <input
                    type="date"
                    prop:value=value
                    on:input:target=move |event| value.set(event.target().value())
                />
            </label>
        }
    };
    view! {
        <InForceForm summary=words::SET_DATE.text() why_not on_held=add>
                <label class="field">
                    <span>{words::ROUND}</span>
                    <select
                        prop:value=slug
                        on:change:target=move |event| slug.set(event.target().value())
                    >
                        {options}
                    </select>
                </label>
                {day(words::COUNTS_FROM.text(), from)}
                {day(words::DUE_ON.text(), until)}
        </InForceForm>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_runs_from_the_first_days_beginning_to_the_last_days_end() {
        let (from, until) = days("2026-11-25", "2026-11-25").unwrap();
        assert_eq!(from, 1_795_564_800_000);
        assert_eq!(until - from, 86_399_000);
        assert_eq!(days("", "2026-11-25"), Err(words::NO_DAY.text()));
        assert_eq!(
            days("2026-11-26", "2026-11-25"),
            Err(words::DAYS_TURNED.text())
        );
    }
}
