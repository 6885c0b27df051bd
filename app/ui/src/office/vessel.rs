//! One vessel: her runs as strips of chain on a time line.

use super::head::OfficeHead;
use crate::parts::{ChainStrip, Empty, StatusWord, StripSize, Tone};
use crate::port::source;
use crate::run_links::dated_links;
use crate::seconds::wanted;
use crate::ship::trouble::trouble_view;
use crate::words::roll as roll_words;
use crate::{time, words};
use journal::RunCard;
use journal::address;
use journal::board::VesselPage as Page;
use journal::log::LogCard;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use leptos_router::hooks::{use_params_map, use_query_map};

fn standing(card: &RunCard) -> (Tone, String) {
    let open_defects = card
        .view
        .defects
        .iter()
        .filter(|defect| defect.open)
        .count();
    match &card.view.closed {
        Some(close) if close.end == procedure::End::BrokenOff => {
            (Tone::Wait, words::BROKEN_OFF.to_owned())
        }
        Some(_) if open_defects > 0 => (Tone::Wait, words::open_defects(open_defects)),
        Some(_) if wanted(Some(card)) > 0 => {
            (Tone::Wait, words::seconds_wanted(wanted(Some(card))))
        }
        Some(_) => (Tone::Done, words::COMPLETE.to_owned()),
        None => (Tone::Calm, words::STILL_OPEN.to_owned()),
    }
}

fn row(page: &Page, card: &RunCard) -> impl IntoView + use<> {
    let (tone, said) = standing(card);
    let title = card.title.clone();
    view! {
        <li class="time-row">
            <time class="time-when">{time::date_clock(card.started_ms)}</time>
            <div class="time-what">
                <A href=format!(
                    "/office/{}/run/{}",
                    page.vessel.id,
                    card.run,
                )>{title}</A>
                <span class="quiet">" " {card.started_by.clone()}</span>
                <ChainStrip links=dated_links(&card.view, &page.crew) size=StripSize::Small />
            </div>
            <StatusWord tone word=said />
        </li>
    }
}

fn filters(page: &Page, chosen: &str) -> impl IntoView + use<> {
    let mut kinds: Vec<(String, String)> = page
        .runs
        .iter()
        .map(|card| (card.slug.clone(), card.title.clone()))
        .collect();
    kinds.sort();
    kinds.dedup_by(|a, b| a.0 == b.0);
    let chosen = chosen.to_owned();
    view! {
        <form class="filters" method="get">
            <div class="field">
                <label for="procedure">{words::PROCEDURE}</label>
                <select id="procedure" name="procedure">
                    <option value="">{words::EVERY_PROCEDURE}</option>
                    {kinds
                        .into_iter()
                        .map(|(slug, title)| {
                            let selected = slug == chosen;
                            view! {
                                <option value=slug selected=selected>
                                    {title}
                                </option>
                            }
                        })
                        .collect_view()}
                </select>
            </div>
            <button type="submit" class="button is-quiet">
                {words::SHOW}
            </button>
        </form>
    }
}

/// What is wrong with the vessel's log, and no master has read yet.
fn log_standing(log: &LogCard) -> impl IntoView + use<> {
    let mut lines: Vec<AnyView> = log.standing().map(trouble_view).collect();
    if !log.damage.is_empty() {
        let said = format!("{}: {}.", roll_words::DAMAGE, log.damage.join("; "));
        lines.push(
            view! {
                <p class="banner is-alarm" role="alert">
                    {said}
                </p>
            }
            .into_any(),
        );
    }
    lines.collect_view()
}

/// What is overdue, due and done by interval, by her own records, procedures and settings.
fn rounds(page: &Page) -> impl IntoView + use<> {
    (!page.rounds.is_empty()).then(|| {
        let title = |round: &procedure::Round| round.title.clone();
        view! {
            <h2>{words::ROUNDS}</h2>
            {crate::ship::rounds::table(page.rounds.clone(), title, |_| ())}
        }
    })
}

fn body(page: &Page, log: Option<&LogCard>, chosen: &str) -> impl IntoView + use<> {
    let shown = page
        .runs
        .iter()
        .filter(|card| chosen.is_empty() || card.slug == chosen);
    let rows: Vec<_> = shown.map(|card| row(page, card)).collect();
    let download = address::VESSEL_RECORDS.at([&page.vessel.id]).into_string();
    let table = address::VESSEL_TABLE.at([&page.vessel.id]).into_string();
    let none = rows.is_empty();
    let is_heard = page.vessel.last_received_ms.is_some();
    let never_heard = (!is_heard).then(|| view! { <p>{words::NEVER_HEARD}</p> });
    // A procedure that was chosen stays chosen on the next page.
    let earlier = page.runs.last().filter(|_| page.earlier > 0).map(|last| {
        let id = page.vessel.id;
        let href = format!("/office/{id}?before={}&procedure={chosen}", last.run);
        let said = words::earlier_runs(page.earlier);
        view! {
            <p>
                <A href>{said}</A>
            </p>
        }
    });
    view! {
        <Title text=page.vessel.name.clone() />
        <div class="office-title">
            <h1>{page.vessel.name.clone()}</h1>
            <p class="quiet">{page.vessel.particulars.clone()}</p>
            <p>
                <a href=download download="" rel="external">
                    {words::DOWNLOAD_RECORDS}
                </a>
                " · "
                <a href=table download="" rel="external">
                    {words::DOWNLOAD_TABLE}
                </a>
                " · "
                <A href=format!("/office/{}/roll", page.vessel.id)>{roll_words::ROLL}</A>
            </p>
        </div>
        {log.map(log_standing)}
        {never_heard}
        {is_heard.then(|| rounds(page))}
        <h2>{words::RUNS_OF}</h2>
        {filters(page, chosen)}
        {none.then(|| view! { <Empty head=words::NO_RUNS body=words::NO_RUNS_BODY /> })}
        <ol class="time-line">{rows.into_iter().collect_view()}</ol>
        {earlier}
    }
}

/// A vessel's page.
#[component]
pub fn VesselPage() -> impl IntoView {
    let source = source();
    let params = use_params_map();
    let query = use_query_map();
    let vessel = move || params.with(|params| params.get("vessel").unwrap_or_default());
    let chosen = move || query.with(|query| query.get("procedure").unwrap_or_default());
    let before = move || query.with(|query| query.get("before").unwrap_or_default());
    let asked = move || (vessel(), before());
    let page = Resource::new(asked, move |(vessel, before)| {
        let source = source.clone();
        async move {
            let url = if before.is_empty() {
                address::VESSEL_RUNS.at([&vessel])
            } else {
                address::VESSEL_EARLIER.at([&vessel, &before])
            };
            let page = source.get(url).await;
            // A server that keeps no log yet still shows its runs.
            let log = source.get(address::VESSEL_LOG.at([&vessel])).await;
            page.map(|page| (page, log.ok()))
        }
    });
    view! {
        <div class="office">
            <OfficeHead />
            <main class="office-main">
                <Suspense fallback=|| view! { <Empty head=words::LOADING body="" /> }>
                    {move || {
                        let chosen = chosen();
                        Suspend::new(async move {
                            match page.await {
                                Ok((page, log)) => body(&page, log.as_ref(), &chosen).into_any(),
                                Err(why) => {
                                    view! { <Empty head=words::BOARD_UNREACHED body=why /> }
                                        .into_any()
                                }
                            }
                        })
                    }}
                </Suspense>
            </main>
        </div>
    }
}
