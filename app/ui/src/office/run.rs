//! One run's full record, as a page of a log book that prints, with its seal.

use super::head::OfficeHead;
use crate::parts::{ChainStrip, Empty, Seal, Sealed, StripSize};
use crate::photo::{ServerPhoto, player};
use crate::port::source;
use crate::run_links::{dated_links, name_in, photo_of, voice_of};
use crate::seconds::wanted_steps;
use crate::{time, words};
use journal::address;
use journal::board::{CLOCK_TOLERANCE_MS, Proof, RecordLine, RunPage};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::hooks::use_params_map;
use procedure::ProcedureHash;

fn sealed(page: &RunPage) -> Sealed {
    let broken: Vec<String> = page
        .records
        .iter()
        .filter_map(|line| match &line.proof {
            Proof::Holds => None,
            Proof::Fails(why) => Some(words::broken_record(
                line.seq,
                &line.device.to_string()[..8],
                &line.id.to_string()[..12],
                why,
            )),
        })
        .collect();
    let held = if broken.is_empty() {
        vec![
            words::seal_count(page.records.len()),
            words::SEAL_SIGNATURES.to_owned(),
            words::SEAL_CHAINS.to_owned(),
            words::SEAL_CLOCK.to_owned(),
        ]
    } else {
        Vec::new()
    };
    Sealed {
        held,
        broken,
        checked: words::checked_at(&time::date_clock(page.now_ms)),
    }
}

fn entry(page: &RunPage, line: &RecordLine) -> impl IntoView + use<> {
    let late = line
        .received_ms
        .map(|received| received - line.time_ms)
        .filter(|ms| *ms < -CLOCK_TOLERANCE_MS)
        .map(
            |ms| view! { <span class="entry-clock">{words::clock_ahead(&time::span(-ms))}</span> },
        );
    let struck = page
        .card
        .view
        .history
        .iter()
        .find(|h| h.id == line.id.0)
        .and_then(|h| h.struck.clone());
    let marks = page
        .card
        .view
        .history
        .iter()
        .find(|h| h.id == line.id.0)
        .map(|h| {
            let mut marks = Vec::new();
            if h.out_of_sequence {
                marks.push(words::OUT_OF_SEQUENCE.text());
            }
            if h.without_right {
                marks.push(words::WITHOUT_RIGHT.text());
            }
            marks.join(", ")
        });
    let of_step = page
        .card
        .view
        .history
        .iter()
        .find(|h| h.id == line.id.0)
        .and_then(|h| h.step.clone())
        .and_then(|id| page.card.view.steps.iter().find(|step| step.id == id))
        .map(|step| view! { <span class="entry-step">{step.instruction.clone()}</span> });
    let fails = match &line.proof {
        Proof::Holds => None,
        Proof::Fails(why) => Some(view! { <p class="entry-fails">{why.clone()}</p> }),
    };
    let history = &page.card.view.history;
    let event = history.iter().find(|h| h.id == line.id.0).map(|h| &h.event);
    let voice = event
        .and_then(voice_of)
        .map(|hash| player(address::PHOTO.at([&ProcedureHash(hash)]).into_string()));
    let photo = event
        .and_then(photo_of)
        .map(|hash| view! { <ServerPhoto hash alt=line.says.clone() /> });
    let crew = &page.crew;
    let struck_said = struck.as_ref().map(|(by, why)| {
        view! { <p class="entry-struck">{words::struck(&name_in(crew, by), why)}</p> }
    });
    view! {
        <li class="record-entry">
            <time class="entry-time">
                {time::date_clock_s(line.time_ms)} {late}
            </time>
            <div class="entry-what">
                {of_step} <span class="entry-says">{line.says.clone()}</span>
                {marks
                    .filter(|marks| !marks.is_empty())
                    .map(|marks| view! { <span class="entry-mark">" (" {marks} ")"</span> })}
                {struck_said} {fails} {photo} {voice}
                {words::bounds(line.not_before_ms, line.received_ms)
                    .map(|bounds| view! { <p class="entry-bounds">{bounds}</p> })}
            </div>
            <div class="entry-who">
                {line.author.clone()}
                <span class="quiet">
                    {words::record_name(&line.id.to_string()[..12], line.seq)}
                </span>
            </div>
        </li>
    }
}

fn body(page: &RunPage) -> impl IntoView + use<> {
    let (vessel, run) = (&page.vessel.id, &page.card.run);
    let records = address::RUN_RECORDS.at([vessel, run]).into_string();
    let table = address::RUN_TABLE.at([vessel, run]).into_string();
    let end = page.card.view.closed.as_ref().map_or_else(
        || words::STILL_OPEN.to_owned(),
        |close| {
            let end = match close.end {
                procedure::End::Completed => words::COMPLETE,
                procedure::End::BrokenOff => words::BROKEN_OFF,
            };
            format!(
                "{end}, {}, {}",
                time::date_clock(close.at_ms),
                name_in(&page.crew, &close.by)
            )
        },
    );
    let lacking: Vec<String> = wanted_steps(&page.card)
        .map(|step| {
            let who = step.by.as_ref().map(|by| name_in(&page.crew, by));
            let at = step.at_ms.map(time::date_clock);
            let parts = [Some(step.instruction.clone()), who, at];
            parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
        })
        .collect();
    let lacking = (!lacking.is_empty()).then(|| {
        view! {
            <dt>{words::SECONDS_TO_SIGN}</dt>
            <dd class="record-lacking">{lacking.join("; ")}</dd>
        }
    });
    view! {
        <Title text=page.card.title.clone() />
        <article class="record-page">
            <header class="record-head">
                <h1>{page.card.title.clone()}</h1>
                <p class="record-of">
                    {page.vessel.name.clone()} ", " {page.vessel.particulars.clone()}
                </p>
            </header>
            <ChainStrip links=dated_links(&page.card.view, &page.crew) size=StripSize::Large />
            <dl class="facts record-facts">
                <dt>{words::STARTED}</dt>
                <dd>
                    {time::date_clock(page.card.started_ms)} ", " {page.card.started_by.clone()}
                </dd>
                <dt>{words::ENDED}</dt>
                <dd>{end}</dd>
                {lacking}
                <dt>{words::PROCEDURE}</dt>
                <dd>
                    {page.card.view.edition.clone()}
                    " "
                    <code class="hash">{page.card.view.procedure.to_string()}</code>
                </dd>
                <dt>{words::RUN}</dt>
                <dd>
                    <code class="hash">{page.card.run.to_string()}</code>
                </dd>
            </dl>
            <p class="record-files">
                <a href=records download="" rel="external">
                    {words::DOWNLOAD_RECORDS}
                </a>
                " · "
                <a href=table download="" rel="external">
                    {words::DOWNLOAD_TABLE}
                </a>
            </p>
            {(page.earlier > 0)
                .then(|| view! { <p class="quiet">{words::earlier_entries(page.earlier)}</p> })}
            <ol class="record-entries">
                {page.records.iter().map(|line| entry(page, line)).collect_view()}
            </ol>
            <Seal seal=sealed(page) />
        </article>
    }
}

/// The page of one run's record.
#[component]
pub fn RecordPage() -> impl IntoView {
    let source = source();
    let params = use_params_map();
    let names = move || {
        params.with(|params| {
            (
                params.get("vessel").unwrap_or_default(),
                params.get("run").unwrap_or_default(),
            )
        })
    };
    let page = Resource::new(names, move |(vessel, run)| {
        let source = source.clone();
        async move { source.get(address::RUN.at([&vessel, &run])).await }
    });
    view! {
        <div class="office">
            <OfficeHead />
            <main class="office-main">
                <Suspense fallback=|| view! { <Empty head=words::LOADING body="" /> }>
                    {move || Suspend::new(async move {
                        match page.await {
                            Ok(page) => body(&page).into_any(),
                            Err(why) => {
                                view! { <Empty head=words::BOARD_UNREACHED body=why /> }.into_any()
                            }
                        }
                    })}
                </Suspense>
            </main>
        </div>
    }
}
