//! One run on the board.

use super::board::heard;
use crate::bow::plan::plan_of;
use crate::messages::Messages;
use crate::orders::Orders;
use crate::parts::{BridgeCard, Limits, ReadingBar, StatusWord, Tone};
use crate::run_alarms::alarm_lines;
use crate::run_cautions::RunCautions;
use crate::run_links::{links, name_in};
use crate::seconds::{wanted_lines, wanted_list};
use crate::time;
use crate::timers::{Timers, running};
use crate::words;
use journal::board::PlanCard;
use journal::{RunCard, RunId};
use leptos::prelude::*;
use procedure::{PersonId, PointView, SecondView, Status, StepId, StepView};

/// Readings shown on one card, the newest.
const READINGS_SHOWN: usize = 4;

fn limits(point: &PointView) -> Limits {
    let bound = |a: &Option<procedure::Decimal>, b: &Option<procedure::Decimal>| {
        a.as_ref().or(b.as_ref()).map(|bound| bound.to_f64())
    };
    Limits {
        least: bound(&point.limits.min, &point.limits.above),
        most: bound(&point.limits.max, &point.limits.below),
        decimals: decimals(point),
    }
}

/// As many decimals as the reading or its limits were written with.
fn decimals(point: &PointView) -> usize {
    let limits = &point.limits;
    [
        &point.value,
        &limits.min,
        &limits.above,
        &limits.max,
        &limits.below,
    ]
    .into_iter()
    .flatten()
    .filter_map(|number| Some(number.to_string().split_once('.')?.1.len()))
    .max()
    .unwrap_or(0)
}

fn newest_readings(card: &RunCard) -> Vec<PointView> {
    let mut points: Vec<PointView> = card
        .view
        .steps
        .iter()
        .flat_map(|step| step.points.clone())
        .filter(|point| point.value.is_some())
        .collect();
    points.sort_by_key(|point| std::cmp::Reverse(point.at_ms));
    points.truncate(READINGS_SHOWN);
    points
}

/// Who is inside a space, and who attends at its hatch.
fn in_space(card: &RunCard, crew: &[journal::Person]) -> impl IntoView + use<> {
    let names = |people: Vec<&PersonId>| {
        let names: Vec<String> = people.into_iter().map(|who| name_in(crew, who)).collect();
        names.join(", ")
    };
    let inside: Vec<&PersonId> = card.view.inside.iter().map(|one| &one.who).collect();
    let attends: Vec<&PersonId> = card.view.attendants.iter().map(|one| &one.who).collect();
    (!inside.is_empty()).then(|| {
        let at_hatch = (!attends.is_empty()).then(|| crate::words::attends(&names(attends)));
        let count = inside.len();
        view! {
            <p class="inside-count">{format!("{count} inside: {}", names(inside))}</p>
            {at_hatch.map(|said| view! { <p class="quiet">{said}</p> })}
        }
    })
}

/// What stands in the largest type: who stopped the work, the step that can be done, or what the run waits for.
fn standing(card: &RunCard, crew: &[journal::Person]) -> String {
    let view = &card.view;
    if let Some(stop) = &view.stopped {
        return crate::words::stopped(stop, crew);
    }
    let find = |id: &StepId| view.steps.iter().find(|step| step.id == *id);
    if let Some(step) = view.next.first().and_then(find) {
        return step.instruction.clone();
    }
    let waits = |step: &&StepView| step.applies && !step.passed && !step.spent;
    let Some(step) = view.steps.iter().find(waits) else {
        return crate::words::ALL_DONE.to_owned();
    };
    match &step.status {
        Status::Waiting(because) if !because.is_empty() => crate::words::waits(because),
        _ => crate::words::waits(&step.instruction),
    }
}

/// The master's order that the run works to, and that some of its own checks failed.
fn order_view(plan: PlanCard) -> impl IntoView {
    let fails = plan.reason.as_ref().map(|reason| {
        let word = crate::words::plan::order_fails(reason);
        view! { <StatusWord tone=Tone::Alarm word /> }
    });
    let signed = crate::words::plan::signed(&plan.by, &time::date_clock(plan.signed_ms));
    view! {
        <div class="card-order">
            <p class="card-order-said">{plan.order}</p>
            {fails}
            <p class="quiet">{signed}</p>
        </div>
    }
}

/// Returns the steps that wait for a second person's signature, in words.
fn seconds_wanted(card: &RunCard) -> Vec<String> {
    let steps = card.view.steps.iter();
    let waits =
        |step: &&StepView| !step.second_later && matches!(step.second, SecondView::Wanted { .. });
    let wanted = steps.filter(waits);
    wanted.map(|step| step.instruction.clone()).collect()
}

/// One run: its chain, its step in words, who, for how long, its last readings, the age of the news.
#[component]
pub fn RunCardView(run: RunId) -> impl IntoView {
    let heard = heard();
    let card = Memo::new(move |_| {
        heard.board.with(|board| {
            board
                .as_ref()
                .and_then(|board| board.open.iter().find(|c| c.run == run).cloned())
        })
    });
    let crew = Memo::new(move |_| {
        heard
            .board
            .with(|board| board.as_ref().map(|b| b.crew.clone()).unwrap_or_default())
    });
    let title =
        card.with_untracked(|card| card.as_ref().map(|c| c.title.clone()).unwrap_or_default());
    let step = Signal::derive(move || {
        let crew = crew.get();
        card.with(|card| {
            card.as_ref()
                .map_or_else(String::new, |card| standing(card, &crew))
        })
    });
    let who = Signal::derive(move || {
        card.with(|card| {
            let Some(card) = card else {
                return String::new();
            };
            let last = card.view.history.last().map(|line| line.by.clone());
            last.map_or_else(|| card.started_by.clone(), |by| name_in(&crew.get(), &by))
        })
    });
    let elapsed = Signal::derive(move || {
        let now = heard.server_now_ms.get();
        card.with(|card| {
            let Some(card) = card else {
                return String::new();
            };
            let at_step = card.view.last_at_ms.unwrap_or(card.started_ms);
            words::at_step(
                &time::span(now - at_step),
                &time::span(now - card.started_ms),
            )
        })
    });
    let chain = Signal::derive(move || {
        let crew = crew.get();
        card.with(|card| {
            card.as_ref()
                .map(|card| links(&card.view, &crew))
                .unwrap_or_default()
        })
    });
    let heard_s = Signal::derive(move || {
        let now = heard.server_now_ms.get();
        heard.board.with(|board| {
            let board = board.as_ref()?;
            let card = board.open.iter().find(|card| card.run == run)?;
            let newest = board
                .devices
                .iter()
                .filter(|device| card.devices.contains(&device.device))
                .filter_map(|device| device.heard_ms)
                .max()
                .or(card.received_ms)?;
            u64::try_from((now - newest) / 1000).ok().or(Some(0))
        })
    });
    let readings =
        Memo::new(move |_| card.with(|c| c.as_ref().map(newest_readings).unwrap_or_default()));
    let runs = Memo::new(move |_| {
        card.with(|card| card.as_ref().map_or_else(Vec::new, |c| running(&c.view)))
    });
    let alarms = Memo::new(move |_| {
        card.with(|c| {
            c.as_ref()
                .map(|c| c.view.alarms.clone())
                .unwrap_or_default()
        })
    });
    let order = Memo::new(move |_| {
        heard.board.with(|board| {
            let board = board.as_ref()?;
            let card = board.open.iter().find(|card| card.run == run)?;
            plan_of(&board.plans, card)
        })
    });
    let seconds =
        Memo::new(move |_| card.with(|card| card.as_ref().map(seconds_wanted).unwrap_or_default()));
    let later = Memo::new(move |_| {
        let crew = crew.get();
        card.with(|card| {
            card.as_ref()
                .map(|card| wanted_lines(card, &crew))
                .unwrap_or_default()
        })
    });
    view! {
        <BridgeCard title step who elapsed links=chain heard_s>
            <RunCautions card />
            <Orders run card />
            <Messages run card crew />
            <Timers running=runs now_ms=heard.server_now_ms />
            <ul class="run-alarms">{move || alarm_lines(alarms.get(), &crew.get())}</ul>
            {move || order.get().map(order_view)}
            {move || {
                let wanted = seconds.get();
                (!wanted.is_empty())
                    .then(|| {
                        view! {
                            <div class="card-seconds">
                                <StatusWord tone=Tone::Wait word=words::SECOND_WANTED />
                                <ul>
                                    {wanted
                                        .into_iter()
                                        .map(|step| view! { <li>{step}</li> })
                                        .collect_view()}
                                </ul>
                            </div>
                        }
                    })
            }}
            {move || wanted_list(later.get())}
            {move || card.with(|card| card.as_ref().map(|card| in_space(card, &crew.get())))}
            {move || {
                readings
                    .get()
                    .into_iter()
                    .map(|point| {
                        let value = point.value.as_ref().map_or(f64::NAN, |v| v.to_f64());
                        view! {
                            <ReadingBar
                                label=point.label.clone()
                                value
                                unit=point.unit.clone()
                                limits=limits(&point)
                            />
                        }
                    })
                    .collect_view()
            }}
        </BridgeCard>
    }
}
