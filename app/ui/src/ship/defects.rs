//! Defects: what is not so, handed over, accepted for a time, put right; each with its whole history.

use crate::orders::{Order, refusal};
use crate::parts::{Caution, Defer, Empty, StatusWord};
use crate::photo::ServerPhoto;
use crate::port::{LinkCommand, device};
use crate::run_links::{defect_weight, name_in};
use crate::time;
use crate::words as common;
use crate::words::ship as words;
use chrono::NaiveDate;
use journal::address;
use journal::catalogue::{self, DefectRow, DefectsPage as Page};
use journal::{Person, RunId};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use procedure::gear::Day;
use procedure::{DefectChange, Due, DueEvent, Event, PersonId};

fn standing(row: &DefectRow, crew: &[Person], now_ms: i64) -> String {
    let defect = &row.defect;
    if !defect.open {
        return words::DEFECT_CLOSED.to_owned();
    }
    let mut said = vec![words::DEFECT_OPEN.to_owned()];
    if let Some(to) = &defect.handed_to {
        said.push(words::handed_to(&name_in(crew, to)));
    }
    if let Some(due) = defect.due {
        said.push(words::due(due));
    }
    if let Some(until) = defect.accepted_until_ms {
        said.push(words::accepted(until, now_ms));
    }
    said.join(", ")
}

/// Returns the last moment of a day that was typed, ms UTC.
fn end_of_day(typed: &str) -> Option<i64> {
    let day = NaiveDate::parse_from_str(typed.trim(), "%Y-%m-%d").ok()?;
    Some(day.and_hms_opt(23, 59, 59)?.and_utc().timestamp_millis())
}

#[component]
fn HandOver(run: RunId, defect: [u8; 32], crew: Vec<Person>) -> impl IntoView {
    let to = RwSignal::new(crew.first().map(|p| p.id.clone()).unwrap_or_default());
    let options = crew
        .into_iter()
        .map(|person| {
            view! { <option value=person.id.clone()>{person.name} ", " {person.rank}</option> }
        })
        .collect_view();
    view! {
        <details class="order-more">
            <summary>{words::HAND_OVER}</summary>
            <label class="field">
                <span>{words::TO_WHOM}</span>
                <select
                    prop:value=to
                    on:change:target=move |event| to.set(event.target().value())
                >
                    {options}
                </select>
            </label>
            <Order
                run
                label=words::WHAT_IS_TO_BE_DONE.text()
                act=words::HAND_OVER.text()
                event=move |text: String| Event::Defect {
                    defect,
                    change: DefectChange::HandedOver { to: PersonId::new(to.get()) },
                    text,
                }
            />
        </details>
    }
}

#[component]
fn Accept(run: RunId, defect: [u8; 32]) -> impl IntoView {
    let day = RwSignal::new(String::new());
    let until = Memo::new(move |_| day.with(|day| end_of_day(day)));
    view! {
        <details class="order-more">
            <summary>{words::ACCEPT}</summary>
            <Caution text=words::ACCEPT_CAUTION />
            <label class="field">
                <span>{words::UNTIL_DAY}</span>
                <input
                    type="date"
                    prop:value=day
                    on:input:target=move |event| day.set(event.target().value())
                />
            </label>
            {move || match until.get() {
                None => view! { <p class="sheet-blocked">{words::DAY_FIRST}</p> }.into_any(),
                Some(until_ms) => view! {
                    <Order
                        run
                        label=words::MEANWHILE.text()
                        act=words::ACCEPT.text()
                        event=move |text: String| Event::Defect {
                            defect,
                            change: DefectChange::Accepted { until_ms },
                            text,
                        }
                    />
                }
                .into_any(),
            }}
        </details>
    }
}

/// Says by when a defect must be gone: a day, or before something is done.
#[component]
fn SetDue(run: RunId, defect: [u8; 32]) -> impl IntoView {
    let day = RwSignal::new(String::new());
    let before = RwSignal::new(String::new());
    let due = Memo::new(move |_| {
        let day = day
            .with(|day| Day::parse(day).ok())
            .map(|day| Due::On { day });
        let what = before.with(|name| {
            DueEvent::ALL
                .into_iter()
                .find(|what| words::due_name(*what) == *name)
        });
        day.or_else(|| what.map(|what| Due::Before { what }))
    });
    let options = DueEvent::ALL.map(|what| {
        let name = words::due_name(what);
        view! { <option value=name.clone()>{name.clone()}</option> }
    });
    view! {
        <details class="order-more">
            <summary>{words::SET_DUE}</summary>
            <p class="quiet">{words::DUE_MASTER}</p>
            <label class="field">
                <span>{common::ON_DAY}</span>
                <input
                    type="date"
                    prop:value=day
                    on:input:target=move |event| day.set(event.target().value())
                />
            </label>
            <label class="field">
                <span>{common::MUST_BE_GONE}</span>
                <select
                    prop:value=before
                    on:change:target=move |event| before.set(event.target().value())
                >
                    <option value=""></option>
                    {options.into_iter().collect_view()}
                </select>
            </label>
            {move || match due.get() {
                None => view! { <p class="sheet-blocked">{words::DUE_FIRST}</p> }.into_any(),
                Some(due) => view! {
                    <Order
                        run
                        label=words::SET_DUE_WHY.text()
                        act=words::SET_DUE.text()
                        event=move |text: String| Event::Defect {
                            defect,
                            change: DefectChange::Due { due },
                            text,
                        }
                    />
                }
                .into_any(),
            }}
        </details>
    }
}

#[component]
fn Change(
    run: RunId,
    defect: [u8; 32],
    name: &'static str,
    label: &'static str,
    change: DefectChange,
    #[prop(optional, into)] caution: Option<String>,
) -> impl IntoView {
    view! {
        <details class="order-more">
            <summary>{name}</summary>
            {caution.map(|text| view! { <Caution text /> })}
            <Order
                run
                label
                act=name
                event=move |text: String| Event::Defect {
                    defect,
                    change: change.clone(),
                    text,
                }
            />
        </details>
    }
}

/// What may be done about an open defect by whoever is enrolled here.
#[component]
fn Keys(run: RunId, defect: [u8; 32], crew: Vec<Person>) -> impl IntoView {
    let device = device();
    let may = move |change: DefectChange| {
        let event = Event::Defect {
            defect,
            change,
            text: String::new(),
        };
        device.me().is_some() && refusal(device, run, &event).is_none()
    };
    let is_hand = Memo::new(move |_| may(DefectChange::Noted));
    let may_accept = Memo::new(move |_| {
        let event = Event::Defect {
            defect,
            change: DefectChange::Accepted { until_ms: 0 },
            text: words::ACCEPT.to_owned(),
        };
        device.me().is_some() && refusal(device, run, &event).is_none()
    });
    let is_officer = Memo::new(move |_| may(DefectChange::Closed));
    let crew = StoredValue::new(crew);
    view! {
        {move || {
            is_hand
                .get()
                .then(|| {
                    view! {
                        <Change
                            run
                            defect
                            name=words::NOTE.text()
                            label=words::NOTE_WHAT.text()
                            change=DefectChange::Noted
                        />
                        <HandOver run defect crew=crew.get_value() />
                    }
                })
        }}
        {move || {
            is_officer
                .get()
                .then(|| {
                    view! {
                        {may_accept.get().then(|| view! { <Accept run defect /> })}
                        <SetDue run defect />
                        <Change
                            run
                            defect
                            name=words::CLOSE_DEFECT.text()
                            label=words::CLOSE_WHAT.text()
                            change=DefectChange::Closed
                            caution=words::CLOSE_CAUTION.to_owned()
                        />
                    }
                })
        }}
    }
}

fn card(row: DefectRow, crew: &[Person], now_ms: i64) -> impl IntoView + use<> {
    let defect = &row.defect;
    let tone = defect_weight(defect.severity).tone();
    let said = standing(&row, crew, now_ms);
    let lines = defect
        .history
        .iter()
        .map(|line| {
            view! {
                <li>
                    <time>{time::date_clock(line.at_ms)}</time>
                    " "
                    {name_in(crew, &line.by)}
                    ": "
                    {line.words.clone()}
                </li>
            }
        })
        .collect_view();
    let photo = defect
        .photo
        .map(|hash| view! { <ServerPhoto hash alt=defect.text.clone() /> });
    let is_open = defect.open;
    let item = defect.item.clone();
    let (run, id, people) = (row.run, defect.id, crew.to_vec());
    view! {
        <article class=format!("defect-card defect-full {}", tone.class())>
            <StatusWord tone word=common::severity(defect.severity) />
            <h2 class="defect-title">{defect.text.clone()}</h2>
            <p class="defect-place">
                <A href=format!("/bow/run/{run}")>{row.title.clone()}</A>
                ": "
                {row.instruction.clone()}
            </p>
            <p class="defect-standing">{said}</p>
            {item.map(|code| view! { <p><A href=format!("/gear/{code}")><code>{code.clone()}</code></A></p> })}
            {photo}
            <ol class="defect-history">{lines}</ol>
            {is_open.then(|| view! { <Keys run defect=id crew=people /> })}
        </article>
    }
}

fn body(page: Page) -> impl IntoView {
    let device = device();
    // Only a date is shown against it; a page that is drawn anew each second could not be typed in.
    let now_ms = untrack(|| device.system.now_ms.get()).max(page.now_ms);
    let crew = page.crew;
    let (open, closed): (Vec<DefectRow>, Vec<DefectRow>) =
        page.defects.into_iter().partition(|row| row.defect.open);
    let cards = |rows: Vec<DefectRow>| {
        rows.into_iter()
            .map(|row| card(row, &crew, now_ms))
            .collect_view()
    };
    let none = open.is_empty();
    view! {
        <div class="office-title">
            <h1>{words::DEFECTS}</h1>
            <p class="quiet">{words::DEFECTS_BODY}</p>
            <Defer />
        </div>
        {none
            .then(|| view! { <Empty head=words::NO_DEFECTS body=words::NO_DEFECTS_BODY /> })}
        <section class="procedure-part">{cards(open)}</section>
        {(!closed.is_empty())
            .then(|| {
                view! {
                    <section class="procedure-part">
                        <h2>{words::PUT_RIGHT}</h2>
                        {cards(closed)}
                    </section>
                }
            })}
    }
}

/// The page of defects.
#[component]
pub fn DefectsPage() -> impl IntoView {
    let device = device();
    Effect::new(move |_| device.dispatch(LinkCommand::Sync));
    view! {
        <Title text=words::DEFECTS />
        {super::shown(
            || address::DEFECTS.at([]),
            |ledger| Some(catalogue::defects_page(ledger, 0)),
            body,
        )}
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[cfg(feature = "ssr")]
    #[test]
    fn accepting_a_defect_says_what_can_come_of_it() {
        let accept = || view! { <Accept run=record::RecordId([0; 32]) defect=[0; 32] /> };
        let html = crate::drawn::drawn(accept);
        assert!(
            crate::drawn::shows(&html, words::ACCEPT_CAUTION.text()),
            "{html}"
        );
    }

    #[test]
    fn a_day_lasts_until_its_end_in_utc() {
        assert_eq!(end_of_day("1970-01-02"), Some(2 * 86_400_000 - 1_000));
        assert_eq!(end_of_day("2026-02-30"), None);
        assert_eq!(end_of_day(""), None);
    }
}
