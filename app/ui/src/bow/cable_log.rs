//! The cable log at the bow: marks as they pass, how the cable leads and grows, how it weighs.
//!
//! Three big controls made for gloves. Each entry is a record of its own, with its time.

use super::run::working;
use super::sheet::{SheetMode, StepHead, form, sheet_state};
use crate::parts::{ActionSheet, CableMark, CableScale, SheetState};
use crate::port::device;
use crate::ships_marks::{cable_of, marks, said_mark};
use crate::{time, words};
use journal::cable;
use leptos::prelude::*;
use procedure::{Cable, Decimal, Event, Grows, LogEntry, Outcome, StepView, Way};

mod another;

use another::AnotherMark;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Open {
    #[default]
    Keys,
    Mark,
    Lead,
    Strain,
}

/// Returns how many shackles are out, from the entries that stand.
fn last_mark(step: &StepView) -> Option<f64> {
    let standing = step.log.iter().filter(|line| !line.struck);
    let mut marks = standing.filter_map(|line| line.entry.mark.as_ref());
    marks.next_back().map(|mark| mark.to_f64())
}

/// Returns the joint that comes to the gypsy next: the one beyond what is out, or the one before it; none when
/// all is home, or out to the last joint.
fn next_joint(out: f64, way: Way, joints: usize) -> Option<i64> {
    let next = match way {
        Way::Out => out.floor() + 1.0,
        Way::Home => out.ceil() - 1.0,
    };
    #[expect(clippy::cast_precision_loss, reason = "at most forty")]
    let last = joints as f64;
    #[expect(clippy::cast_possible_truncation, reason = "at most forty")]
    (0.0..=last).contains(&next).then_some(next as i64)
}

/// The cable log of a step.
#[component]
pub fn CableLog(step: StepView) -> impl IntoView {
    let side = RwSignal::new(SheetMode::Step);
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
            SheetMode::Step => view! { <Keys step now side /> }.into_any(),
            other => form(step, other, side),
        }
    }
}

#[component]
fn Keys(step: StepView, now: Memo<Option<StepView>>, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let device = device();
    let open = RwSignal::new(Open::Keys);
    let id = StoredValue::new(step.id.clone());
    let way = step.kind.cable().unwrap_or(Way::Out);
    let log = move |entry: LogEntry| {
        working.say(Event::Log {
            step: id.get_value(),
            entry,
        });
        open.set(Open::Keys);
    };
    let cable = StoredValue::new(working.card.with_untracked(|card| {
        let side = card.as_ref().and_then(|card| cable::anchor_of(&card.view));
        let last = || {
            let now_ms = device.system.now_ms.get_untracked();
            device
                .records
                .ledger
                .with_untracked(|ledger| cable::last_anchor(ledger.as_ref()?, now_ms))
        };
        cable_of(device, side.or_else(last))
    }));
    let joints = cable.with_value(Cable::joints);
    let before = StoredValue::new(out_before(way));
    let passed = Memo::new(move |_| {
        let logged = now.get().as_ref().and_then(last_mark);
        logged.or_else(|| before.get_value())
    });
    let next_mark = move || next_joint(passed.get()?, way, joints);
    let on_mark = move |_| match next_mark() {
        Some(next) => log(LogEntry {
            mark: Decimal::new(next, 0),
            ..LogEntry::default()
        }),
        None => open.set(Open::Mark),
    };
    let said_next = move || match next_mark() {
        Some(0) => words::ALL_HOME.to_owned(),
        Some(next) => {
            let mark = cable.with_value(|cable| said_mark(cable, next));
            format!("{mark} {}", words::MARK_PASSED)
        }
        None => words::WHICH_MARK.to_owned(),
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
        let shackles = passed.get().unwrap_or_default();
        cable.with_value(|cable| cable.metres_at(shackles))
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
    let flags: Vec<CableMark> = cable.with_value(marks);
    let (aboard_m, keep_m) = cable.with_value(|cable| (cable.total_m(), cable.keep_m.to_f64()));
    let keys = move || {
        view! {
            <div class="log-keys">
                <button
                    type="button"
                    class="log-key is-whole"
                    disabled=blocked
                    on:click=on_mark
                >
                    <span class="log-name">{said_next}</span>
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
        Open::Mark => {
            view! { <AnotherMark cable=cable.get_value() log=Callback::new(log) /> }.into_any()
        }
        Open::Lead => view! { <LeadKeys log=Callback::new(log) /> }.into_any(),
        Open::Strain => view! { <StrainKeys log=Callback::new(log) /> }.into_any(),
    };
    view! {
        <ActionSheet secondary=words::NOT_SO on_secondary=Callback::new(move |()| side.set(SheetMode::Fault))>
            <StepHead step=step.clone() side />
            <CableScale
                out_m
                aboard_m
                keep_m
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
                    disabled=move || device.records.saving.get()
                    on:click=move |_| working.say(finish.clone())
                >
                    {words::THATS_ALL}
                </button>
                <button
                    type="button"
                    class="button"
                    disabled=blocked
                    aria-expanded=move || (open.get() == Open::Mark).to_string()
                    on:click=move |_| {
                        open.update(|open| {
                            *open = if *open == Open::Keys { Open::Mark } else { Open::Keys };
                        });
                    }
                >
                    {move || if open.get() == Open::Keys { words::ANOTHER_MARK.text() } else { words::BACK_TO_KEYS.text() }}
                </button>
                <button type="button" class="button" on:click=take_back>
                    {words::TAKE_BACK}
                </button>
            </div>
        </ActionSheet>
    }
}

/// Returns how many shackles were out before this step: by the run's own logs, else by those of the run before;
/// none where an anchor is chosen, because it begins in its hawse.
fn out_before(way: Way) -> Option<f64> {
    let working = working();
    let device = working.device;
    let (of_run, begins) = working.card.with_untracked(|card| {
        let view = &card.as_ref()?.view;
        Some((cable::newest_mark(view), cable::chooses_anchor(view)))
    })?;
    if let Some((_, mark)) = of_run {
        return Some(mark);
    }
    if begins && way == Way::Out {
        return Some(0.0);
    }
    let now_ms = device.system.now_ms.get_untracked();
    let run = working.run.get_untracked();
    device.records.ledger.with_untracked(|ledger| {
        let lies = cable::lies(ledger.as_ref()?, run, now_ms)?;
        (lies.mark > 0.0).then_some(lies.mark)
    })
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_next_joint_is_the_one_beyond_or_the_one_before() {
        assert_eq!(next_joint(0.0, Way::Out, 8), Some(1));
        assert_eq!(next_joint(3.5, Way::Out, 8), Some(4));
        assert_eq!(
            next_joint(8.0, Way::Out, 8),
            None,
            "only the last length is left"
        );
        assert_eq!(next_joint(4.0, Way::Home, 8), Some(3));
        assert_eq!(next_joint(3.5, Way::Home, 8), Some(3));
        assert_eq!(next_joint(1.0, Way::Home, 8), Some(0), "the anchor is home");
        assert_eq!(next_joint(0.0, Way::Home, 8), None);
    }
}
