//! The page of one item: what it is, how far it may be used, what became of it, its defects.

use super::form::Change;
use super::wear::wear;
use super::{because, device, first_end, keeps, side_of, standing, today};
use crate::parts::{Caution, Defer, HoldButton, Qr, StatusWord};
use crate::port::{RecordCommand, device as port_device};
use crate::run_links::defect_weight;
use crate::ship::shown;
use crate::time;
use crate::words::{self as common, gear as words, ship as ship_words};
use journal::address;
use journal::catalogue::DefectRow;
use journal::gear::{ItemPage as Page, item_page};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use leptos_router::hooks::use_params_map;
use procedure::gear::{DateKind, GearChange, ItemChange, Service};
use procedure::{Role, Span};

fn facts(page: &Page) -> impl IntoView + use<> {
    let card = &page.row.card;
    let fact = |name: String, value: String| {
        (!value.is_empty()).then(|| {
            view! {
                <div>
                    <dt data-text="kind">{name}</dt>
                    <dd data-text="kind">{value}</dd>
                </div>
            }
        })
    };
    let kind = page.kind.as_ref();
    let figures = card.figures.iter().map(|(key, value)| {
        let figure = kind.and_then(|kind| kind.figure(key));
        let label = figure.map_or_else(|| key.clone(), |figure| figure.label.clone());
        let unit = figure.map(|figure| figure.unit.clone()).unwrap_or_default();
        fact(label, format!("{value} {unit}").trim().to_owned())
    });
    let dates = DateKind::ALL.into_iter().filter_map(|date| {
        let day = card.date(date)?;
        Some(fact(words::date(date).to_string(), day.to_string()))
    });
    let place = format!("{} {}", words::room(card.room), side_of(card.side));
    view! {
        <dl class="facts gear-facts">
            {fact(words::PLACE.to_string(), place)}
            {fact(words::CERTIFICATE.to_string(), card.certificate.clone())}
            {fact(words::SERIAL.to_string(), card.serial.clone())}
            {dates.collect_view()}
            {figures.collect_view()}
        </dl>
    }
}

fn named(items: Vec<(String, String)>) -> impl IntoView {
    let links = items.into_iter().map(|(code, name)| {
        view! {
            <li>
                <A href=format!("/gear/{code}")>
                    <span data-text="name">{name}</span>
                </A>
                " "
                <code>{code}</code>
            </li>
        }
    });
    view! { <ul class="gear-named">{links.collect_view()}</ul> }
}

fn defect(row: DefectRow) -> impl IntoView {
    let defect = row.defect;
    let tone = defect_weight(defect.severity).tone();
    let due = defect.due.map(ship_words::due);
    view! {
        <li>
            <StatusWord tone word=common::severity(defect.severity) />
            <A href="/defects">
                <span data-text="defect">{defect.text}</span>
            </A>
            <span class="quiet">
                {if defect.open { ship_words::DEFECT_OPEN } else { ship_words::DEFECT_CLOSED }}
            </span>
            {due.map(|due| view! { <span>{due}</span> })}
        </li>
    }
}

fn intervals(page: &Page) -> impl IntoView + use<> {
    let intervals = page.kind.iter().flat_map(|kind| kind.intervals.clone());
    let intervals: Vec<_> = intervals
        .map(|interval| {
            let span = match &interval.every {
                Span::Fixed(ms) => time::span(*ms),
                Span::Setting(key) | Span::Computed(key) => {
                    procedure::Settings::words(key).unwrap_or(key).to_owned()
                }
            };
            let said = words::every(&interval.what, &span, &interval.source);
            view! { <li data-text="kind">{said}</li> }
        })
        .collect();
    (!intervals.is_empty()).then(|| {
        view! {
            <section class="procedure-part">
                <h2>{words::CHECKED_EVERY}</h2>
                <ul class="gear-intervals">{intervals}</ul>
            </section>
        }
    })
}

/// A word that has to be written, and a key to be held that says what became of the item.
#[component]
fn Act(
    code: StoredValue<String>,
    name: common::Word,
    label: common::Word,
    /// Makes the change of the words, and says which of the two are the reason.
    #[prop(into)]
    change: Callback<String, (GearChange, String)>,
) -> impl IntoView {
    let device = port_device();
    let text = RwSignal::new(String::new());
    let blank = move || text.with(|text| text.trim().is_empty());
    view! {
        <details class="order-more">
            <summary>{name}</summary>
            <div class="order">
                <label class="field">
                    <span>{label}</span>
                    <textarea
                        class="sheet-text"
                        rows="2"
                        prop:value=text
                        on:input:target=move |event| text.set(event.target().value())
                    ></textarea>
                </label>
                <HoldButton
                    label=name.text()
                    disabled=Signal::derive(move || device.records.saving.get() || blank())
                    on_held=move |()| {
                        let (change, reason) = change.run(text.get_untracked().trim().to_owned());
                        let item = code.get_value();
                        let changes = vec![ItemChange { item, change }];
                        device.dispatch(RecordCommand::Gear { changes, reason });
                        text.set(String::new());
                    }
                />
            </div>
        </details>
    }
}

fn acts(page: &Page) -> impl IntoView + use<> {
    let device = device();
    let code = StoredValue::new(page.row.code.clone());
    let card = page.row.card.clone();
    let kinds = StoredValue::new(page.kind.iter().cloned().collect::<Vec<_>>());
    let others = page.others.clone();
    let service = page.row.service.clone();
    let is_out = matches!(service, Service::Out(_));
    let is_off = service == Service::Off;
    let is_in = service == Service::In;
    let is_hand = move || {
        device
            .me()
            .is_some_and(|me| me.roles.may_act_as(Role::Crew))
    };
    let is_master = move || device.me().is_some_and(|me| me.roles.has(Role::Master));
    let kept = move || {
        let (card, others) = (card.clone(), others.clone());
        (keeps(device) && !is_off).then(|| {
            let restrict = (!is_out || is_master()).then(|| {
                view! {
                    <Act
                        code
                        name=words::RESTRICT
                        label=words::RESTRICT_HOW
                        change=move |text: String| {
                            (GearChange::Restricted { words: text.clone() }, text)
                        }
                    />
                }
            });
            view! {
                {restrict}
                {(is_out && !is_master())
                    .then(|| view! { <p class="quiet">{words::RESTRICT_NOT_YET}</p> })}
                {(!is_in)
                    .then(|| {
                        view! {
                            <Act
                                code
                                name=words::PUT_BACK
                                label=words::PUT_BACK_WHY
                                change=move |text: String| (GearChange::PutBack, text)
                            />
                        }
                    })}
                <Change code=code.get_value() card kinds others />
                <Act
                    code
                    name=words::TAKE_OFF
                    label=words::TAKE_OFF_WHY
                    change=move |text: String| (GearChange::TakenOff, text)
                />
            }
        })
    };
    view! {
        <section class="procedure-part gear-acts">
            {move || {
                (is_hand() && !is_out && !is_off)
                    .then(|| {
                        view! {
                            <Act
                                code
                                name=words::TAKE_OUT
                                label=words::WHY
                                change=move |text: String| (GearChange::OutOfService, text)
                            />
                        }
                    })
            }}
            {kept}
        </section>
    }
}

fn body(page: Page) -> impl IntoView {
    let (tone, said) = standing(&page.row);
    let because = because(&page.row);
    let end = first_end(&page.row);
    let end =
        end.map(|(tone, said)| view! { <p class=format!("gear-end {}", tone.class())>{said}</p> });
    let job = page.kind.as_ref().map(|kind| kind.job.clone());
    let lines = page.lines.iter().map(|line| {
        let reason = (!line.reason.is_empty()).then(|| format!(": {}", line.reason));
        view! {
            <li>
                <time>{time::date_clock(line.at_ms)}</time>
                " "
                <span data-text="name">{line.by.clone()}</span>
                ": "
                <span data-text="what">{words::line(&line.what)} {reason}</span>
            </li>
        }
    });
    let lines = lines.collect_view();
    let clashes = page.row.clashes.iter().map(|name| {
        view! { <p class="sheet-blocked" data-text="name">{words::clash(name)}</p> }
    });
    let clashes = clashes.collect_view();
    let (facts, intervals, acts) = (facts(&page), intervals(&page), acts(&page));
    let wears: Vec<_> = page.wear.iter().map(wear).collect();
    let (code, beneath) = (page.row.code.clone(), page.beneath);
    let defects: Vec<_> = page.defects.into_iter().map(defect).collect();
    view! {
        <div class="office-title">
            <A href="/gear">{words::BACK_TO_GEAR}</A>
            <h1 data-text="name">{page.row.card.name.clone()}</h1>
            <p class="quiet">
                <span data-text="kind">{page.row.kind_name}</span>
                ", "
                <code>{code.clone()}</code>
            </p>
            {job.map(|job| view! { <p data-text="kind">{job}</p> })}
        </div>
        <section class="gear-standing">
            <StatusWord tone word=said />
            {because.map(|why| view! { <p data-text="why">{why}</p> })}
            {end}
            {clashes}
            <Caution text=ship_words::SERVICE_CAUTION />
            <Defer />
        </section>
        {acts}
        {facts}
        {wears}
        {page
            .above
            .map(|above| {
                view! {
                    <section class="procedure-part">
                        <h2>{words::UNDER}</h2>
                        {named(vec![above])}
                    </section>
                }
            })}
        {(!beneath.is_empty())
            .then(|| {
                view! {
                    <section class="procedure-part">
                        <h2>{words::BENEATH}</h2>
                        {named(beneath)}
                    </section>
                }
            })}
        {(!defects.is_empty())
            .then(|| {
                view! {
                    <section class="procedure-part">
                        <h2>{ship_words::DEFECTS}</h2>
                        <ul class="gear-defects">{defects}</ul>
                    </section>
                }
            })}
        <section class="procedure-part">
            <h2>{words::HISTORY}</h2>
            <ol class="defect-history">{lines}</ol>
        </section>
        {intervals}
        <Qr text=code.clone() label=code />
    }
}

/// The page of one item.
#[component]
pub fn ItemPage() -> impl IntoView {
    let device = device();
    let today = today(device);
    let params = use_params_map();
    let code = Memo::new(move |_| params.with(|params| params.get("item").unwrap_or_default()));
    // An item that this device has no record of may be one that the ship has.
    let drawn = shown(
        move || address::GEAR_ITEM.at([&code.get()]),
        move |ledger| item_page(ledger, &code.get(), today.get()),
        body,
    );
    view! {
        <Title text=words::GEAR />
        {drawn}
    }
}
