//! One procedure: its steps with their limits, what the ship has changed of it, and its history.

use super::editor::Editor;
use super::limits::asked;
use crate::parts::{Caution, Defer};
use crate::words::ship as words;
use journal::address;
use journal::catalogue::{self, ProcedurePage as Page, Version};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use leptos_router::hooks::use_params_map;
use procedure::{Difference, Settings, Step};

/// A list of differences in words.
pub fn differences(all: &[Difference]) -> impl IntoView + use<> {
    let lines = all.iter().map(words::difference).collect::<Vec<_>>();
    view! {
        <ul class="differences">
            {lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view()}
        </ul>
    }
}

fn step(step: &Step, settings: &Settings) -> impl IntoView + use<> {
    let limits = asked(&step.kind, settings)
        .into_iter()
        .map(|limit| {
            let source = (!limit.source.is_empty())
                .then(|| view! { <span class="quiet">" " {limit.source}</span> });
            view! { <li>{limit.words} {source}</li> }
        })
        .collect_view();
    let cautions = step
        .cautions
        .iter()
        .map(|text| view! { <Caution text=text.clone() /> })
        .collect_view();
    let rules = [
        Some(words::on_fault(step.on_fault).text()),
        Some(words::skip(step.skip).text()),
        match (step.second, step.second_may_be_later()) {
            (_, true) => Some(words::SECOND_MAY_BE_LATER.text()),
            (second, _) => second.then(|| words::SECOND_SIGNS.text()),
        },
    ];
    let rules: Vec<&str> = rules.into_iter().flatten().collect();
    view! {
        <li class="procedure-step">
            <p class="procedure-do">{step.instruction.clone()}</p>
            {(!step.how().is_empty())
                .then(|| {
                    let lines = step.how().iter().map(|line| view! { <li>{line.clone()}</li> });
                    view! { <ul class="procedure-how">{lines.collect_view()}</ul> }
                })}
            {(!step.why.is_empty()).then(|| view! { <p>{step.why.clone()}</p> })}
            {cautions}
            <ul class="procedure-limits">{limits}</ul>
            <p class="quiet">{rules.join(" ")}</p>
        </li>
    }
}

fn version(version: &Version) -> impl IntoView + use<> {
    let published = words::in_force(&version.published.by, version.published.at_ms);
    view! {
        <li class="procedure-version">
            <p>
                {words::EDITION} " " {version.edition.clone()} ", " {published} ", "
                {words::IDENTITY} " " <code>{version.hash.to_string()[..16].to_owned()}</code>
            </p>
            <details class="order-more">
                <summary>{words::CHANGED}</summary>
                {differences(&version.changed)}
            </details>
        </li>
    }
}

fn body(page: &Page) -> impl IntoView + use<> {
    let procedure = &page.procedure;
    let mut section = "";
    let mut steps = Vec::new();
    for one in procedure.steps() {
        if one.section != section {
            section = &one.section;
            steps.push(
                view! {
                    <li class="procedure-section">
                        <h3>{one.section.clone()}</h3>
                    </li>
                }
                .into_any(),
            );
        }
        steps.push(step(one, &page.settings).into_any());
    }
    let published = page.card.published.as_ref().map_or_else(
        || words::LIBRARY.to_owned(),
        |published| words::in_force(&published.by, published.at_ms),
    );
    let to_library = match &page.to_library {
        None => view! { <p>{words::NOT_IN_LIBRARY}</p> }.into_any(),
        Some(same) if same.is_empty() => view! { <p>{words::NO_DIFFERENCE}</p> }.into_any(),
        Some(all) => differences(all).into_any(),
    };
    let versions = if page.versions.is_empty() {
        view! { <p>{words::NO_HISTORY}</p> }.into_any()
    } else {
        view! { <ol class="procedure-versions">{page.versions.iter().map(version).collect_view()}</ol> }
            .into_any()
    };
    view! {
        <Title text=procedure.title().to_owned() />
        <div class="office-title">
            <h1>{procedure.title().to_owned()}</h1>
            <p>{procedure.purpose().to_owned()}</p>
            <p class="quiet">
                {words::EDITION} " " {procedure.edition().to_owned()} ". " {words::IN_FORCE} ": "
                {published} "."
            </p>
            <p class="quiet procedure-hash">
                {words::IDENTITY} ": " <code>{page.card.hash.to_string()}</code>
            </p>
            <p>
                <A href=format!("/procedures/{}/card", procedure.slug())>{words::CARD}</A>
            </p>
        </div>
        {procedure
            .cautions()
            .iter()
            .map(|text| view! { <Caution text=text.clone() /> })
            .collect_view()}
        <Defer />
        <section class="procedure-part">
            <h2>{words::STEPS}</h2>
            <ol class="procedure-steps">{steps}</ol>
        </section>
        <section class="procedure-part">
            <h2>{words::DIFFERENCE}</h2>
            {to_library}
        </section>
        <section class="procedure-part">
            <h2>{words::HISTORY}</h2>
            {versions}
        </section>
        <Editor file=page.file.clone() text=page.text.clone() in_force=procedure.clone() />
    }
}

/// A procedure's page.
#[component]
pub fn ProcedurePage() -> impl IntoView {
    let params = use_params_map();
    let slug = move || params.with(|params| params.get("slug").unwrap_or_default());
    super::shown(
        move || address::PROCEDURE.at([&slug()]),
        move |ledger| catalogue::procedure_page(ledger, &slug()),
        |page: Page| body(&page),
    )
}
