//! What wants a second signature that the work did not wait for: at the head of its run, on the phone of whoever may
//! sign, on the bridge's board and in the office.

use crate::parts::{StatusWord, Tone};
use crate::port::device;
use crate::run_links::name_in;
use crate::{time, words};
use journal::{RunCard, RunId};
use leptos::prelude::*;
use leptos_router::components::A;
use procedure::{PersonId, SecondWanted, StepView};

/// Returns the steps of a run that want a second signature still.
pub fn wanted_steps(card: &RunCard) -> impl Iterator<Item = &StepView> {
    card.view.steps.iter().filter(|step| step.second_later)
}

/// Returns how many steps of a run want a second signature still.
pub fn wanted(card: Option<&RunCard>) -> usize {
    card.map_or(0, |card| wanted_steps(card).count())
}

/// Returns the way to a step that somebody is asked to sign for.
pub fn way_to(run: RunId, step: &str) -> String {
    format!("/bow/run/{run}?step={step}")
}

/// One line at the head of a run: how many of its steps want a second signature.
#[component]
pub fn SecondsLine(card: Memo<Option<RunCard>>) -> impl IntoView {
    let many = Memo::new(move |_| card.with(|card| wanted(card.as_ref())));
    move || {
        let many = many.get();
        (many > 0).then(|| {
            view! {
                <p class="bow-seconds" role="status">
                    {words::seconds_wanted(many)}
                </p>
            }
        })
    }
}

/// A step on the list of those who may sign.
#[derive(Debug, Clone, PartialEq)]
struct Asked {
    run: RunId,
    title: String,
    wanted: SecondWanted,
    who: String,
    is_mine: bool,
}

/// Lists what wants a second signature in all runs that are here, closed ones too: what the person with this phone may
/// sign comes first, then the oldest.
fn asked(ledger: &journal::Ledger, me: Option<&PersonId>) -> Vec<Asked> {
    let crew = ledger.particulars().map(|body| body.crew.clone());
    let crew = crew.unwrap_or_default();
    let mut all: Vec<Asked> = Vec::new();
    for file in ledger.runs().values() {
        let title = file.procedure.as_ref().map(|one| one.title().to_owned());
        for wanted in &file.seconds {
            all.push(Asked {
                run: file.id,
                title: title.clone().unwrap_or_default(),
                who: name_in(&crew, &wanted.by),
                is_mine: me.is_some_and(|me| wanted.not_by.contains(me)),
                wanted: wanted.clone(),
            });
        }
    }
    all.sort_by_key(|one| (one.is_mine, one.wanted.at_ms, one.run));
    all
}

/// What this phone's person, or somebody else, is asked to sign as second.
#[component]
pub fn ToSign() -> impl IntoView {
    let device = device();
    let all = Memo::new(move |_| {
        let me = device.me().map(|me| PersonId::new(me.person));
        device.records.ledger.with(|ledger| {
            let ledger = ledger.as_ref();
            ledger
                .map(|ledger| asked(ledger, me.as_ref()))
                .unwrap_or_default()
        })
    });
    let row = |one: Asked| {
        let at = time::date_clock(one.wanted.at_ms);
        let whose = if one.is_mine {
            words::SECOND_BY_OTHERS
        } else {
            words::SECOND_BY_YOU
        };
        view! {
            <A href=way_to(one.run, one.wanted.step.as_str()) attr:class="start-run start-sign">
                <span class="start-run-title" data-text="procedure">{one.wanted.instruction}</span>
                <span class="quiet">{one.title} ": " {one.who} ", " {at}</span>
                <span class="start-sign-whose">{whose}</span>
            </A>
        }
    };
    move || {
        let all = all.get();
        (!all.is_empty()).then(|| {
            view! {
                <section class="start-runs start-signs">
                    <h2>{words::SECONDS_TO_SIGN}</h2>
                    {all.into_iter().map(row).collect_view()}
                </section>
            }
        })
    }
}

/// A step that wants a second signature, as a page says it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WantedLine {
    way: String,
    instruction: String,
    by: String,
}

/// Returns the steps of one run that want a second signature, with who did each and when.
pub fn wanted_lines(card: &RunCard, crew: &[journal::Person]) -> Vec<WantedLine> {
    let line = |step: &StepView| {
        let who = step.by.as_ref().map(|by| name_in(crew, by));
        let at = step.at_ms.map(time::date_clock);
        let by: Vec<String> = [who, at].into_iter().flatten().collect();
        WantedLine {
            way: way_to(card.run, step.id.as_str()),
            instruction: step.instruction.clone(),
            by: by.join(", "),
        }
    };
    wanted_steps(card).map(line).collect()
}

/// Draws them, each the way to its sheet; nothing where there are none.
pub fn wanted_list(lines: Vec<WantedLine>) -> Option<impl IntoView> {
    (!lines.is_empty()).then(|| {
        let many = lines.len();
        let row = |line: WantedLine| {
            view! {
                <li>
                    <A href=line.way>{line.instruction}</A>
                    <span class="quiet">" " {line.by}</span>
                </li>
            }
        };
        view! {
            <div class="card-seconds is-later">
                <StatusWord tone=Tone::Wait word=words::seconds_wanted(many) />
                <ul>{lines.into_iter().map(row).collect_view()}</ul>
            </div>
        }
    })
}
