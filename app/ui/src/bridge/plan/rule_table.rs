//! Cable by each rule, beside the others.

use super::fields::label_of;
use super::outcome::{Work, piece, source_and_caution};
use crate::parts::{StatusWord, Tone};
use crate::words::plan as words;
use leptos::prelude::*;
use seamanship::plan::{Fit, Length, Part, PlanOutput};
use std::borrow::Cow;

fn fit_view(fit: Fit) -> impl IntoView {
    if fit.fits() {
        view! { <StatusWord tone=Tone::Done word=words::FITS /> }
    } else {
        view! { <StatusWord tone=Tone::Alarm word=words::short_by(&format!("{:.0}", fit.short_by_m)) /> }
    }
}

fn length_cells(length: &Part<Length>) -> impl IntoView + use<> {
    match &length.result {
        Ok(length) => view! {
            <td class="is-number">{format!("{:.0}", length.length_m)}</td>
            <td class="is-number">{format!("{:.1}", length.at_gypsy_shackles)}</td>
            <td>{fit_view(length.fit)}</td>
        }
        .into_any(),
        Err(problem) => {
            let why = words::wrong(&label_of(&problem.field), &problem.words);
            view! { <td colspan="3">{why}</td> }.into_any()
        }
    }
}

/// Every rule beside the others.
#[component]
pub fn RulesBesideEachOther(work: Work) -> impl IntoView {
    let rows = piece(work, |work| rule_lines(&work.output));
    let count = Memo::new(move |_| rows.with(|rows| rows.as_ref().map_or(0, Vec::len)));
    let row = move |at: usize| {
        let row = Memo::new(move |_| {
            rows.with(|rows| rows.as_ref().and_then(|rows| rows.get(at).cloned()))
        });
        move || {
            row.get().map(|row| {
                view! {
                    <tr>
                        <th scope="row">
                            {row.name}
                            {row.is_chosen.then(|| view! { <em class="plan-chosen">{words::THE_SHIPS}</em> })}
                            <span class="quiet">{row.formula}</span>
                            {source_and_caution(row.length.source.clone(), row.length.caution.clone())}
                        </th>
                        {length_cells(&row.length)}
                    </tr>
                }
            })
        }
    };
    view! {
        <section class="plan-rules">
            <h2 class="plan-heading">{words::RULES}</h2>
            <div class="table-frame" tabindex="0" role="region" aria-label=words::RULES>
                <table class="table">
                    <caption class="unseen">{words::RULES}</caption>
                    <thead>
                        <tr>
                            <th scope="col">{words::RULE}</th>
                            <th scope="col" class="is-number">{words::CABLE} ", m"</th>
                            <th scope="col" class="is-number">{words::AT_GYPSY} ", shackles"</th>
                            <th scope="col">{words::ABOARD}</th>
                        </tr>
                    </thead>
                    <tbody>{move || (0..count.get()).map(row).collect_view()}</tbody>
                </table>
            </div>
        </section>
    }
}

/// One rule's line.
#[derive(Debug, Clone, PartialEq)]
struct RuleLine {
    name: Cow<'static, str>,
    formula: Cow<'static, str>,
    is_chosen: bool,
    length: Part<Length>,
}

fn rule_lines(output: &PlanOutput) -> Vec<RuleLine> {
    let catenary = RuleLine {
        name: Cow::Borrowed(words::BY_CATENARY.text()),
        formula: Cow::Borrowed(words::BY_CATENARY_FORMULA.text()),
        is_chosen: false,
        length: output.by_catenary.clone(),
    };
    let rules = output.by_rule.iter().map(|row| RuleLine {
        name: row.name.clone(),
        formula: row.formula.clone(),
        is_chosen: row.is_chosen,
        length: row.length.clone(),
    });
    std::iter::once(catenary).chain(rules).collect()
}
