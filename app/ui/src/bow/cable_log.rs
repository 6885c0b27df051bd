//! The cable log at the bow: marks as they pass, how the cable leads and grows, how it weighs.
//!
//! Three big controls made for gloves. Each entry is a record of its own, with its time.

use super::run::working;
use super::sheet::{Side, StepHead, form, sheet_state};
use crate::parts::{ActionSheet, CableMark, CableScale, SheetState};
use crate::port::phone;
use crate::ships_marks::{marks, said_mark};
use crate::{time, words};
use leptos::prelude::*;
use procedure::{Decimal, Event, Grows, Kind, LogEntry, Outcome, StepView, Way};

/// Cable aboard and kept inboard, where the ship's settings do not say: shackles.
const ABOARD_SHACKLES: f64 = 9.0;
const KEPT_SHACKLES: f64 = 1.0;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Open {
    #[default]
    Keys,
    Lead,
    Strain,
}

fn whole(mark: &Decimal) -> i64 {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a mark is a small whole number"
    )]
    let n = mark.to_f64().round() as i64;
    n
}

/// Returns the number of the last mark that passed, from the entries that stand.
fn last_mark(step: &StepView, way: Way) -> Option<i64> {
    let marks = step
        .log
        .iter()
        .filter(|line| !line.struck)
        .filter_map(|line| line.entry.mark.as_ref());
    let newest = marks.map(whole).next_back();
    newest.or(match way {
        Way::Out => Some(0),
        Way::Home => None,
    })
}

/// The cable log of a step.
#[component]
pub fn CableLog(step: StepView) -> impl IntoView {
    let side = RwSignal::new(Side::Step);
    let id = step.id.clone();
    // The log grows without the sheet being drawn anew: it is read from the run's card.
    let working = working();
    let now = Memo::new(move |_| {
        working.card.with(|card| {
            card.as_ref()
                .and_then(|card| card.view.steps.iter().find(|s| s.id == id).cloned())
        })
    });
    move || {
        let step = step.clone();
        match side.get() {
            Side::Step => view! { <Keys step now side /> }.into_any(),
            other => form(step, other, side),
        }
    }
}

#[component]
fn Keys(step: StepView, now: Memo<Option<StepView>>, side: RwSignal<Side>) -> impl IntoView {
    let working = working();
    let phone = phone();
    let open = RwSignal::new(Open::Keys);
    let id = StoredValue::new(step.id.clone());
    let way = match step.kind {
        Kind::Log {
            cable: Some(way), ..
        } => way,
        _ => Way::Out,
    };
    let log = move |entry: LogEntry| {
        working.say(Event::Log {
            step: id.get_value(),
            entry,
        });
        open.set(Open::Keys);
    };
    let passed = Memo::new(move |_| now.get().as_ref().and_then(|step| last_mark(step, way)));
    let next_mark = move || match (way, passed.get()) {
        (Way::Out, passed) => passed.unwrap_or(0) + 1,
        (Way::Home, Some(passed)) => (passed - 1).max(0),
        (Way::Home, None) => planned_start(),
    };
    let on_mark = move |_| {
        let mark = Decimal::new(next_mark(), 0);
        log(LogEntry {
            mark,
            ..LogEntry::default()
        });
    };
    let newest = move |pick: fn(&LogEntry) -> Option<String>| {
        now.get()
            .and_then(|step| {
                step.log
                    .iter()
                    .rev()
                    .filter(|line| !line.struck)
                    .find_map(|line| pick(&line.entry))
            })
            .unwrap_or_default()
    };
    let out_m = Signal::derive(move || {
        #[expect(clippy::cast_precision_loss, reason = "a mark is a small whole number")]
        let shackles = passed.get().unwrap_or(0) as f64;
        shackles * crate::ships_marks::SHACKLE_M
    });
    let said = move || {
        let lines: Vec<String> = now.get().map_or_else(Vec::new, |step| {
            step.log
                .iter()
                .rev()
                .filter(|line| !line.struck)
                .take(2)
                .map(|line| format!("{} {}", time::clock(line.at_ms), line.words))
                .collect()
        });
        lines.join(". ")
    };
    let take_back = move |_| {
        let newest = now.get_untracked().and_then(|step| {
            step.log
                .iter()
                .rev()
                .find(|line| !line.struck)
                .map(|line| line.event)
        });
        if let Some(event) = newest {
            working.say(Event::StrikeOut {
                event,
                reason: words::TAKEN_BACK.to_owned(),
            });
        }
    };
    let finish = Event::Done {
        step: step.id.clone(),
        outcome: Outcome::Confirmed,
    };
    let asked = Event::Log {
        step: step.id.clone(),
        entry: LogEntry::default(),
    };
    let state = sheet_state(move || Some(asked.clone()));
    let blocked = move || !matches!(state.get(), SheetState::Ready);
    let flags: Vec<CableMark> = marks();
    let keys = move || {
        view! {
            <div class="log-keys">
                <button
                    type="button"
                    class="log-key is-whole"
                    disabled=blocked
                    on:click=on_mark
                >
                    <span class="log-name">{move || said_mark(next_mark())} " " {words::MARK_PASSED}</span>
                    <span class="log-note">{move || words::marks_out(passed.get())}</span>
                </button>
                <button
                    type="button"
                    class="log-key"
                    disabled=blocked
                    on:click=move |_| open.set(Open::Lead)
                >
                    <span class="log-name">{words::LEADS}</span>
                    <span class="log-note">
                        {move || newest(|e| e.lead_oclock.map(words::oclock))} " "
                        {move || newest(|e| e.grows.map(|g| words::grows(g).to_owned()))}
                    </span>
                </button>
                <button
                    type="button"
                    class="log-key"
                    disabled=blocked
                    on:click=move |_| open.set(Open::Strain)
                >
                    <span class="log-name">{words::WEIGHS}</span>
                    <span class="log-note">{move || newest(|e| e.strain.map(|s| words::strain(s).to_owned()))}</span>
                </button>
            </div>
        }
    };
    let panel = move || match open.get() {
        Open::Keys => keys().into_any(),
        Open::Lead => view! { <LeadKeys log=Callback::new(log) /> }.into_any(),
        Open::Strain => view! { <StrainKeys log=Callback::new(log) /> }.into_any(),
    };
    view! {
        <ActionSheet secondary=words::NOT_SO on_secondary=Callback::new(move |()| side.set(Side::Fault))>
            <StepHead step=step.clone() side />
            <CableScale
                out_m
                aboard_m=ABOARD_SHACKLES * crate::ships_marks::SHACKLE_M
                keep_m=KEPT_SHACKLES * crate::ships_marks::SHACKLE_M
                marks=flags
                said=Signal::derive(move || words::marks_out(passed.get()))
            />
            <p class="log-said" role="status">
                {said}
            </p>
            <div class="cable-log">{panel}</div>
            <div class="sheet-choices">
                <button
                    type="button"
                    class="button is-primary"
                    disabled=move || phone.saving.get()
                    on:click=move |_| working.say(finish.clone())
                >
                    {words::THATS_ALL}
                </button>
                <button type="button" class="button" on:click=take_back>
                    {words::TAKE_BACK}
                </button>
            </div>
        </ActionSheet>
    }
}

/// Where the count begins when the cable comes home and nothing has been logged yet.
fn planned_start() -> i64 {
    6
}

/// The clock for the lead, and how the cable grows.
#[component]
fn LeadKeys(log: Callback<LogEntry>) -> impl IntoView {
    let lead = RwSignal::new(None::<u8>);
    let hours = (1..=12u8)
        .map(|hour| {
            view! {
                <button
                    type="button"
                    class="button hour"
                    aria-pressed=move || (lead.get() == Some(hour)).to_string()
                    on:click=move |_| lead.set(Some(hour))
                >
                    {hour}
                </button>
            }
        })
        .collect_view();
    let grows = [
        Grows::UpAndDown,
        Grows::ShortStay,
        Grows::Medium,
        Grows::LongStay,
        Grows::Slack,
        Grows::UnderTheBow,
        Grows::Aweigh,
    ]
    .map(|grows| {
        view! {
            <button
                type="button"
                class="button"
                on:click=move |_| {
                    log.run(LogEntry {
                        lead_oclock: lead.get_untracked(),
                        grows: Some(grows),
                        ..LogEntry::default()
                    });
                }
            >
                {words::grows(grows)}
            </button>
        }
    });
    view! {
        <p class="sheet-more">{words::LEADS}</p>
        <div class="hours">{hours}</div>
        <p class="sheet-more">{words::GROWS}</p>
        <div class="sheet-choices">{grows.into_iter().collect_view()}</div>
    }
}

/// How the cable weighs.
#[component]
fn StrainKeys(log: Callback<LogEntry>) -> impl IntoView {
    let keys = (0..=4u8)
        .map(|strain| {
            view! {
                <button
                    type="button"
                    class="button"
                    on:click=move |_| {
                        log.run(LogEntry { strain: Some(strain), ..LogEntry::default() });
                    }
                >
                    {words::strain(strain)}
                </button>
            }
        })
        .collect_view();
    view! {
        <p class="sheet-more">{words::WEIGHS}</p>
        <div class="sheet-choices">{keys}</div>
    }
}
