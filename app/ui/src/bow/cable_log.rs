//! The cable log at the bow: marks as they pass, how the cable leads and grows, how it weighs.
//!
//! Three big controls made for gloves. Each entry is a record of its own, with its time.

use super::run::working;
use super::sheet::{SheetMode, StepHead, form, sheet_state};
use crate::parts::{ActionSheet, CableMark, CableScale, SheetState};
use crate::port::device;
use crate::ships_marks::{cable_of, marks, out_m, said_mark};
use crate::{time, words};
use journal::cable::{self, Seen};
use leptos::prelude::*;
use procedure::cable::{BOTH, Side};
use procedure::{Cable, Decimal, Event, Grows, LogEntry, LogSide, Outcome, StepView, Way};

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
    let is_either = step.kind.log_side() == Some(&LogSide::Either);
    let names_side = step.kind.log_side().is_some();
    let of_log = working.card.with_untracked(|card| {
        let view = &card.as_ref()?.view;
        cable::log_side(view, &step)
    });
    // Whose cable it is: by the run's choice, or by the bow's key where the log is of both; nothing is guessed.
    let named = RwSignal::new(of_log);
    let log = move |entry: LogEntry| {
        working.say(Event::Log {
            step: id.get_value(),
            entry: LogEntry {
                side: named.get_untracked().filter(|_| names_side),
                ..entry
            },
        });
        open.set(Open::Keys);
    };
    let cable = Memo::new(move |_| {
        let last = || {
            let now_ms = device.system.now_ms.get_untracked();
            device
                .records
                .ledger
                .with_untracked(|ledger| cable::last_anchor(ledger.as_ref()?, now_ms))
        };
        let older = || (!names_side).then(last).flatten();
        cable_of(device, named.get().or_else(older))
    });
    let first = StoredValue::new(step.clone());
    let before = Memo::new(move |_| first.with_value(|step| out_before(step, named.get())));
    let passed = Memo::new(move |_| {
        let logged = now.get().and_then(|step| {
            let is_own = |entry: &LogEntry| entry.side.is_none() || entry.side == named.get();
            let mut standing = step.log.iter().rev().filter(|line| !line.struck);
            standing.find_map(|line| Seen::of(&line.entry).filter(|_| is_own(&line.entry)))
        });
        logged.or_else(|| before.get())
    });
    // Of a cable that nobody has described no mark is offered: the bow says which it sees.
    let next_mark = move || {
        let joints = cable.with(|cable| cable.as_ref().map(Cable::joints))?;
        next_joint(passed.get()?.at_gypsy(), way, joints)
    };
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
            let mark = cable.with(|cable| {
                let cable = cable.as_ref();
                cable.map_or_else(String::new, |cable| said_mark(cable, next))
            });
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
    let asked = StoredValue::new(step.id.clone());
    let state = sheet_state(move || {
        Some(Event::Log {
            step: asked.get_value(),
            entry: LogEntry {
                strain: Some(0),
                side: named.get().filter(|_| names_side),
                ..LogEntry::default()
            },
        })
    });
    let blocked = move || !matches!(state.get(), SheetState::Ready);
    let finishing = Signal::derive(move || {
        if device.records.saving.get() {
            SheetState::Saving
        } else {
            SheetState::Ready
        }
    });
    let sides = is_either.then(|| view! { <SideKeys named /> });
    let scale = move || match cable.get() {
        Some(cable) => view! { <Scale cable side=named passed /> }.into_any(),
        None if named.get().is_none() => ().into_any(),
        None => view! { <p class="sheet-more">{words::CABLE_NOT_DESCRIBED}</p> }.into_any(),
    };
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
        Open::Mark => view! { <AnotherMark cable=cable.get() log=Callback::new(log) /> }.into_any(),
        Open::Lead => view! { <LeadKeys log=Callback::new(log) /> }.into_any(),
        Open::Strain => view! { <StrainKeys log=Callback::new(log) /> }.into_any(),
    };
    view! {
        <ActionSheet
            primary=words::THATS_ALL
            on_primary=move |()| working.say(finish.clone())
            secondary=words::NOT_SO
            on_secondary=Callback::new(move |()| side.set(SheetMode::Fault))
            state=finishing
        >
            <StepHead step=step.clone() side />
            {sides}
            {scale}
            <p class="log-said" role="status">
                {said}
            </p>
            <div class="cable-log">{panel}</div>
            <div class="sheet-choices is-row">
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

/// The cable that is described, with how much of it is out.
#[component]
fn Scale(cable: Cable, side: RwSignal<Option<Side>>, passed: Memo<Option<Seen>>) -> impl IntoView {
    let device = device();
    let flags: Vec<CableMark> = marks(&cable);
    let (aboard_m, keep_m) = (cable.total_m(), cable.keep_m.to_f64());
    let out_m = Signal::derive(move || {
        let out = passed.get();
        out.map_or(f64::NAN, |out| out_m(device, &cable, side.get(), out))
    });
    view! {
        <CableScale
            out_m
            aboard_m
            keep_m
            marks=flags
            said=Signal::derive(move || words::marks_out(passed.get()))
        />
    }
}

/// The two keys that say whose cable the next entries are about.
#[component]
fn SideKeys(named: RwSignal<Option<Side>>) -> impl IntoView {
    let keys = BOTH.map(|side| {
        view! {
            <button
                type="button"
                class="button"
                aria-pressed=move || (named.get() == Some(side)).to_string()
                on:click=move |_| named.set(Some(side))
            >
                {words::side_cable(side)}
            </button>
        }
    });
    view! {
        <p class="sheet-more">{words::WHICH_CABLE}</p>
        <div class="sheet-choices is-row">{keys.into_iter().collect_view()}</div>
    }
}

/// Returns how many shackles of a cable were out before this step: by the run's own logs, else by those of the runs
/// before; none out where its log begins with the anchor home.
fn out_before(step: &StepView, side: Option<Side>) -> Option<Seen> {
    let working = working();
    let device = working.device;
    let (of_run, begins) = working.card.with_untracked(|card| {
        let view = &card.as_ref()?.view;
        Some((
            cable::newest_mark(view, side),
            cable::begins_home(view, step),
        ))
    })?;
    if let Some((_, mark)) = of_run {
        return Some(mark);
    }
    if begins {
        return Some(Seen::HOME);
    }
    let now_ms = device.system.now_ms.get_untracked();
    let run = working.run.get_untracked();
    device.records.ledger.with_untracked(|ledger| {
        let lies = cable::lies(ledger.as_ref()?, side, run, now_ms)?;
        (lies.out.mark > 0.0).then_some(lies.out)
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
