//! A rehearsal of the procedure that stands in the editor: invented people work it, and nothing is put on record.

use crate::parts::Caution;
use crate::port::device;
use crate::words::Word;
use crate::words::ship as words;
use leptos::prelude::*;
use procedure::rehearsal::{Answered, Next, PEOPLE, Trial, TrialLine, next};
use procedure::{Procedure, RunView, Settings};
use std::sync::Arc;

/// How much time passes at one press, s.
const WAIT_S: i64 = 600;
/// How many of the last lines are shown.
const LINES: usize = 12;

/// Says how long after the beginning something was, as `1:05:20`.
fn after(at_s: i64) -> String {
    format!("{}:{:02}:{:02}", at_s / 3_600, at_s / 60 % 60, at_s % 60)
}

fn line(line: &TrialLine) -> impl IntoView + use<> {
    let what = words::trial_line(&after(line.at_s), &words::who_plays(&line.who), &line.words);
    let refused = line.refused.as_deref().map(words::trial_refused);
    let is_refused = refused.is_some();
    view! {
        <li class:is-refused=is_refused>
            {what} {refused.map(|why| view! { <b>{why}</b> })}
        </li>
    }
}

/// Says where the run stands: what comes next, with its cautions.
fn standing(view: &RunView) -> AnyView {
    if view.closed.is_some() {
        return view! { <p class="trial-step">{words::TRIAL_CLOSED}</p> }.into_any();
    }
    match next(view) {
        Next::Second { .. } => view! { <p class="trial-step">{words::TRIAL_SECOND}</p> }.into_any(),
        Next::Work(step) => {
            let cautions = step.cautions.iter().cloned();
            let cautions = cautions
                .map(|text| view! { <Caution text /> })
                .collect_view();
            let step = step.id.to_string();
            let title = view.steps.iter().find(|one| one.id.to_string() == step);
            let title = title.map(|one| one.instruction.clone());
            view! {
                <p class="trial-step" data-step=step>{title}</p>
                {cautions}
            }
            .into_any()
        }
        Next::Close => view! { <p class="trial-step">{words::TRIAL_CLOSE}</p> }.into_any(),
        Next::Wait(_) => view! { <p class="trial-step">{words::TRIAL_WAITS}</p> }.into_any(),
        Next::Stuck(open) => {
            let open = open.iter().cloned();
            view! {
                <p class="trial-step">{words::TRIAL_STUCK}</p>
                <ul class="mistakes">{open.map(|what| view! { <li>{what}</li> }).collect_view()}</ul>
            }
            .into_any()
        }
    }
}

/// Tries the procedure that was read from the editor's text; what is changed there begins anew.
#[component]
pub fn Rehearse(
    /// The procedure, while the text reads without a mistake.
    procedure: Signal<Option<Procedure>>,
) -> impl IntoView {
    let device = device();
    let begin = move || {
        let procedure = procedure.get_untracked().map(Arc::new)?;
        let in_force = device.records.ledger.with_untracked(|ledger| {
            let known = ledger.as_ref().map(journal::Ledger::settings);
            known.unwrap_or_else(Settings::defaults)
        });
        Some(Trial::begin(procedure, in_force))
    };
    let trial: RwSignal<Option<Trial>> = RwSignal::new(None);
    let before: RwSignal<Vec<Trial>> = RwSignal::new(Vec::new());
    let who: RwSignal<Option<&'static str>> = RwSignal::new(None);
    Effect::new(move |_| {
        procedure.track();
        trial.set(None);
        before.set(Vec::new());
    });
    let change = move |act: fn(&mut Trial, Option<&'static str>)| {
        let Some(mut tried) = trial.get_untracked() else {
            return;
        };
        before.update(|before| before.push(tried.clone()));
        act(&mut tried, who.get_untracked());
        trial.set(Some(tried));
    };
    let key = move |label: Word, act: fn(&mut Trial, Option<&'static str>)| {
        view! { <button type="button" class="button" on:click=move |_| change(act)>{label}</button> }
    };
    let people = move || {
        let choice = move |name: Option<&'static str>| {
            let label = name.map_or_else(|| words::WHOEVER_MAY.to_string(), words::who_plays);
            view! {
                <button
                    type="button"
                    class="button is-choice"
                    data-who=name.unwrap_or("")
                    aria-pressed=move || (who.get() == name).to_string()
                    on:click=move |_| who.set(name)
                >
                    {label}
                </button>
            }
        };
        let named = PEOPLE.iter().map(|(name, _)| choice(Some(name)));
        std::iter::once(choice(None)).chain(named).collect_view()
    };
    let shown = move || {
        trial.with(|trial| {
            let Some(trial) = trial else {
                return ().into_any();
            };
            let view = trial.view();
            let all = trial.lines();
            let lines = all[all.len().saturating_sub(LINES)..].iter().rev().map(line).collect_view();
            let alarms = view.alarms.iter().map(|alarm| alarm.words.clone());
            let alarms = alarms.map(|text| view! { <li>{text}</li> }).collect_view();
            let progress = words::trial_progress(
                &after(trial.at_s()),
                &view.progress.passed.to_string(),
                &view.progress.total.to_string(),
            );
            let acts: Vec<String> =
                trial.acts().iter().filter_map(|act| serde_json::to_string(act).ok()).collect();
            view! {
                <p class="quiet" data-at=trial.at_s().to_string()>{progress}</p>
                {standing(&view)}
                <ul class="mistakes trial-alarms" role="status">{alarms}</ul>
                <ol class="trial-lines" reversed>{lines}</ol>
                <details>
                    <summary>{words::TRIAL_AS_LINES}</summary>
                    <textarea class="procedure-text trial-acts" rows="8" readonly>{acts.join("\n")}</textarea>
                </details>
            }
            .into_any()
        })
    };
    view! {
        <details class="order-more trial">
            <summary>{words::REHEARSE}</summary>
            <p>{words::REHEARSE_BODY}</p>
            <button
                type="button"
                class="button is-first"
                disabled=move || procedure.with(Option::is_none)
                on:click=move |_| {
                    before.set(Vec::new());
                    trial.set(begin());
                }
            >
                {move || if trial.with(Option::is_some) { words::TRIAL_AGAIN.text() } else { words::TRIAL_BEGIN.text() }}
            </button>
            <Show when=move || trial.with(Option::is_some)>
                <div class="trial-people" role="group" aria-label=words::WHO_DOES_IT.text()>{people()}</div>
                <div class="trial-keys">
                    {key(words::AS_IT_SHOULD, |trial, who| { trial.press(who, Answered::Well); })}
                    {key(words::OTHERWISE, |trial, who| { trial.press(who, Answered::Badly); })}
                    {key(words::TEN_MINUTES, |trial, _| trial.wait(WAIT_S))}
                    {key(words::UNTIL_CLOCK, |trial, _| { trial.wait_for_clock(); })}
                    {key(words::TO_THE_END, |trial, _| { let _ = trial.to_the_end(); })}
                    <button
                        type="button"
                        class="button"
                        disabled=move || before.with(Vec::is_empty)
                        on:click=move |_| {
                            let last = before.try_update(Vec::pop).flatten();
                            if last.is_some() {
                                trial.set(last);
                            }
                        }
                    >
                        {words::TAKE_BACK_LAST}
                    </button>
                </div>
                {shown}
            </Show>
        </details>
    }
}
