//! One run at the bow: the chain of steps above, the step in the gypsy under the thumb.

use super::cable_log::CableLog;
use super::head::BowHead;
use super::plan::OrderOfRun;
use super::sheet::{SheetMode, StepHead, StepSheet, form, second_wanted};
use super::stop::StopKey;
use crate::bridge::watch::WatchLine;
use crate::messages::{Messages, UnreadMessage};
use crate::orders::{self, Orders};
use crate::parts::{
    ActionSheet, Caution, ChainLine, Empty, Follow, HoldButton, LinkState, SheetState,
};
use crate::port::{Device, DeviceState, RecordCommand, SystemCommand, device};
use crate::run_alarms::alarm_lines;
use crate::run_cautions::RunCautions;
use crate::run_links::links;
use crate::seconds::{SecondsLine, wanted};
use crate::timers::{Timers, running};
use crate::words;
use journal::board::run_card;
use journal::ledger::RunFile;
use journal::{RunCard, RunId};
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;
use leptos_router::hooks::{use_params_map, use_query_map};
use procedure::{End, Event, Kind, PersonId, RunView, Status, StepId, StepView};

/// What every part of the page shares.
#[derive(Debug, Clone, Copy)]
pub struct Working {
    /// The device; kept here, for a held key calls back from a timer, where there is no context.
    pub device: Device,
    /// The run.
    pub run: Signal<Option<RunId>>,
    /// Its card.
    pub card: Memo<Option<RunCard>>,
    /// The crew, for names.
    pub crew: Memo<Vec<journal::Person>>,
    /// The step that was opened from the list; none follows the run.
    pub opened: RwSignal<Option<StepId>>,
}

impl Working {
    /// Puts an event of this run on record.
    pub fn say(&self, event: Event) {
        if let Some(run) = self.run.get_untracked() {
            self.device.dispatch(RecordCommand::Say {
                run,
                event: Box::new(event),
            });
        }
    }

    /// Puts several events of this run on record, which one press confirms.
    pub fn say_all(&self, events: Vec<Event>) {
        if let Some(run) = self.run.get_untracked() {
            let all = events.into_iter().map(|event| (run, event));
            self.device.dispatch(RecordCommand::SayAll(all.collect()));
        }
    }

    /// Says why an event may not be written now; `None` if it may.
    pub fn refusal(&self, event: &Event) -> Option<String> {
        orders::refusal(self.device, self.run.get()?, event)
    }

    /// Returns the step under the thumb.
    pub fn step(&self) -> Option<StepView> {
        let opened = self.opened.get();
        self.card.with(|card| {
            let view = &card.as_ref()?.view;
            let is_here = |id: &StepId| view.steps.iter().any(|step| step.id == *id);
            let wanted = opened
                .filter(is_here)
                .or_else(|| view.next.first().cloned())
                .or_else(|| first_waiting(view))?;
            view.steps.iter().find(|step| step.id == wanted).cloned()
        })
    }
}

/// How a step stands that was opened from the list.
#[derive(Debug, Clone, PartialEq)]
struct Opened {
    step: StepId,
    is_passed: bool,
    wants_second: bool,
    /// What answered it, where it is a choice: a log goes on after it was said to be all.
    answer: Option<[u8; 32]>,
}

impl Opened {
    fn at(step: &StepView) -> Self {
        Self {
            step: step.id.clone(),
            is_passed: step.passed || step.spent,
            wants_second: step.second_later,
            answer: step
                .event
                .filter(|_| matches!(step.kind, Kind::Choice { .. })),
        }
    }

    /// Says whether what it was opened for has been done since it stood so.
    fn is_over_since(&self, was: &Self) -> bool {
        let is_signed = was.wants_second && !self.wants_second;
        self.is_passed && (!was.is_passed || is_signed || self.answer != was.answer)
    }
}

/// Returns the first step that waits: where everything waits, for a time to pass or for somebody.
fn first_waiting(view: &RunView) -> Option<StepId> {
    let waits = |step: &&StepView| step.applies && !step.passed && !step.spent;
    view.steps.iter().find(waits).map(|step| step.id.clone())
}

/// Returns what the page shares.
pub fn working() -> Working {
    use_context().expect("invariant: the run's page provides it")
}

/// The page of one run.
#[component]
pub fn RunPage() -> impl IntoView {
    let device = device();
    let params = use_params_map();
    let run = Signal::derive(move || {
        params.with(|params| {
            params
                .get("run")
                .and_then(|text| text.parse::<RunId>().ok())
        })
    });
    // The view follows the clock by itself only where something counts down; once a second is enough.
    let card = Memo::new(move |_| {
        let now = device.system.now_ms.get();
        let run = run.get()?;
        device
            .records
            .ledger
            .with(|ledger| run_card(ledger.as_ref()?, run, now))
    });
    let crew = Memo::new(move |_| {
        device.records.ledger.with(|ledger| {
            ledger
                .as_ref()
                .and_then(|ledger| ledger.particulars())
                .map(|body| body.crew.clone())
                .unwrap_or_default()
        })
    });
    let working = Working {
        device,
        run,
        card,
        crew,
        opened: RwSignal::new(None),
    };
    provide_context(working);
    // Who is asked to sign for a step comes to that step.
    let query = use_query_map();
    Effect::new(move |_| {
        if let Some(step) = query.with(|query| query.get("step")) {
            working.opened.set(Some(StepId::new(step)));
        }
    });
    // A step that was opened from the list and is done now, answered anew, or signed by the second, gives way to the next.
    Effect::new(move |before: Option<Option<Opened>>| {
        let step = working.opened.get()?;
        let now = card.with(|card| {
            let mut steps = card.as_ref()?.view.steps.iter();
            steps.find(|shown| shown.id == step).map(Opened::at)
        })?;
        let was = before.flatten().filter(|was| was.step == now.step);
        // Who was led here to sign stays until it is signed, though the work that wants it comes only now.
        let asked = query.with_untracked(|query| query.get("step"));
        let is_to_sign = now.wants_second && asked.is_some_and(|id| id == now.step.as_str());
        if !is_to_sign && was.is_some_and(|was| now.is_over_since(&was)) {
            working.opened.set(None);
        }
        Some(now)
    });
    let title = Signal::derive(move || {
        card.with(|card| {
            card.as_ref()
                .map_or_else(String::new, |card| card.title.clone())
        })
    });
    // What stands below the list depends on these few things; it is drawn anew only when one changes.
    let is_closed =
        Memo::new(move |_| card.with(|card| card.as_ref().map(|card| card.view.closed.is_some())));
    let is_working = Memo::new(move |_| working.step().is_some());
    let is_away = Memo::new(move |_| {
        let run = run.get();
        device.records.ledger.with(|ledger| {
            let file = ledger.as_ref().and_then(|ledger| ledger.run(run?));
            file.map(RunFile::is_away)
        })
    });
    // A closed run that is looked at is read back, and stays.
    Effect::new(move |_| {
        if let Some((run, _)) = run.get().zip(is_away.get()) {
            device.dispatch(SystemCommand::ReadRun(run));
        }
    });
    let phase = Memo::new(
        move |_| match (device.identity.state.get(), is_closed.get()) {
            (DeviceState::Opening, _) => Phase::Opening,
            (DeviceState::NoStore(why), _) => Phase::NoStore(why),
            (DeviceState::Unknown, _) => Phase::Unknown,
            (DeviceState::Enrolled(_), None) if is_away.get() == Some(true) => Phase::Reading,
            (DeviceState::Enrolled(_), None) => Phase::NoRun,
            (DeviceState::Enrolled(_), Some(true)) => Phase::Closed,
            (DeviceState::Enrolled(_), Some(false)) if is_working.get() => Phase::Working,
            (DeviceState::Enrolled(_), Some(false)) => Phase::ToClose,
        },
    );
    // A run that is worked keeps the screen alight: a PIN between two steps is a step too many.
    Effect::new(move |_| {
        let is_open = is_closed.get() == Some(false);
        device.dispatch(SystemCommand::StayAwake(is_open));
    });
    on_cleanup(move || device.dispatch(SystemCommand::StayAwake(false)));
    let running = Memo::new(move |_| {
        card.with(|card| card.as_ref().map_or_else(Vec::new, |c| running(&c.view)))
    });
    view! {
        <Title text=move || title.get() />
        <div class="bow">
            <BowHead title back="/bow">
                <StopKey />
            </BowHead>
            <div class="bow-said">
                <Standstill />
                <SecondsLine card />
                <UnreadMessage run card crew />
            </div>
            <OrderOfRun card />
            <Timers running now_ms=device.system.now_ms />
            {move || match phase.get() {
                Phase::Opening => {
                    view! { <Empty head=words::OPENING body=words::OPENING_BODY /> }.into_any()
                }
                Phase::NoStore(why) => view! { <Empty head=words::NO_STORE body=why /> }.into_any(),
                Phase::Unknown => view! {
                    <Empty head=words::ENROL_FIRST body=words::ENROL_FIRST_BODY>
                        <A href="/bow/enrol" attr:class="button is-primary">
                            {words::ENROL}
                        </A>
                    </Empty>
                }
                .into_any(),
                Phase::Reading => {
                    view! { <Empty head=words::READING_RUN body=words::READING_RUN_BODY /> }
                        .into_any()
                }
                Phase::NoRun => {
                    view! { <Empty head=words::NO_RUN body=words::NO_RUN_BODY /> }.into_any()
                }
                Phase::Working => view! { <Steps /> <Under /> }.into_any(),
                Phase::ToClose => view! { <Steps /> <CloseSheet /> }.into_any(),
                Phase::Closed => view! { <Steps /> <ClosedNote /> }.into_any(),
            }}
        </div>
    }
}

#[derive(Debug, Clone, PartialEq)]
enum Phase {
    Opening,
    NoStore(String),
    Unknown,
    Reading,
    NoRun,
    Working,
    ToClose,
    Closed,
}

/// The chain of the run's steps; the one under the thumb is kept in sight.
#[component]
fn Steps() -> impl IntoView {
    let working = working();
    let chain = Memo::new(move |_| {
        let crew = working.crew.get();
        working.card.with(|card| {
            card.as_ref()
                .map(|card| links(&card.view, &crew))
                .unwrap_or_default()
        })
    });
    let opened = Signal::derive(move || {
        working
            .opened
            .get()
            .map(|id| id.as_str().to_owned())
            .unwrap_or_default()
    });
    let is_at_anchor = working.card.with_untracked(|card| {
        let slug = card.as_ref().map(|card| card.slug.as_str());
        slug.is_some_and(|slug| ["letting-go", "at-anchor", "dragging"].contains(&slug))
    });
    view! {
        <main class="bow-list">
            <RunCautions card=working.card begins_open=true />
            <ChainLine
                links=chain
                on_open=move |id: String| working.opened.set(Some(StepId::new(id)))
                follow=Follow::Next
                opened
            />
            {is_at_anchor.then(|| view! { <WatchLine /> })}
            <RunAlarms />
            {move || {
                let (card, crew) = (working.card, working.crew);
                let run = working.run.get();
                run.map(|run| view! { <Messages run card crew photo="message-photo" /> })
            }}
            {move || working.run.get().map(|run| view! { <Orders run card=working.card /> })}
        </main>
    }
}

/// That the work is stopped: by whom, when, why, and who lifts it.
#[component]
fn Standstill() -> impl IntoView {
    let working = working();
    let stop = Memo::new(move |_| {
        working.card.with(|card| {
            let view = &card.as_ref()?.view;
            view.stopped.clone().filter(|_| view.closed.is_none())
        })
    });
    move || {
        stop.get().map(|stop| {
            view! {
                <div class="bow-standstill" role="status">
                    <p class="bow-stopped">{words::stopped(&stop, &working.crew.get())}</p>
                    <p>{words::WHO_LIFTS}</p>
                </div>
            }
        })
    }
}

/// What calls for attention in this run, in words.
#[component]
fn RunAlarms() -> impl IntoView {
    let working = working();
    let alarms = Memo::new(move |_| {
        working.card.with(|card| {
            card.as_ref()
                .map(|card| card.view.alarms.clone())
                .unwrap_or_default()
        })
    });
    view! {
        <ul class="run-alarms" role="status">
            {move || alarm_lines(alarms.get(), &working.crew.get())}
        </ul>
    }
}

/// A step's name and status, and the signature that is wanted for it.
type DrawnBy = (StepId, Status, Option<([u8; 32], Vec<PersonId>)>);

/// Returns what the sheet is drawn by: news that change nothing of it leave it as it is.
fn drawn_by(working: &Working) -> Memo<Option<DrawnBy>> {
    let working = *working;
    Memo::new(move |_| {
        let step = working.step()?;
        let wanted = second_wanted(&step);
        Some((step.id, step.status, wanted))
    })
}

/// The sheet of the step under the thumb: drawn anew when the step, its turn or its state changes.
#[component]
fn Under() -> impl IntoView {
    let working = working();
    let key = drawn_by(&working);
    move || {
        // Read, not only tracked: a memo that nobody reads follows nothing.
        key.with(|_| ());
        let step = untrack(move || working.step())?;
        Some(if step.kind.cable().is_some() {
            view! { <CableLog step=step /> }.into_any()
        } else {
            view! { <StepSheet step=step /> }.into_any()
        })
    }
}

/// Every step is done: the run can be closed.
#[component]
fn CloseSheet() -> impl IntoView {
    let working = working();
    let close = Event::Close {
        end: End::Completed,
        remark: String::new(),
    };
    let asked = close.clone();
    let refusal = Memo::new(move |_| working.refusal(&asked));
    let state =
        Signal::derive(move || refusal.get().map_or(SheetState::Ready, SheetState::Blocked));
    view! {
        <ActionSheet state link=Some(LinkState::Done)>
            <h2 class="sheet-title" data-state="all-done">{words::ALL_DONE}</h2>
            {move || {
                let lacking = working.card.with(|card| wanted(card.as_ref()));
                (lacking > 0)
                    .then(|| view! { <Caution text=words::close_lacking(lacking) /> })
            }}
            <p class="sheet-more">{words::ALL_DONE_BODY}</p>
            <HoldButton
                label=words::CLOSE_RUN
                disabled=Signal::derive(move || refusal.get().is_some())
                on_held=move |()| working.say(close.clone())
            />
        </ActionSheet>
    }
}

/// The run is closed: any step of it can still be looked at, and an entry struck out.
#[component]
fn ClosedNote() -> impl IntoView {
    let navigate = leptos_router::hooks::use_navigate();
    let working = working();
    let leave = Callback::new(move |()| {
        navigate("/bow", leptos_router::NavigateOptions::default());
    });
    let key = drawn_by(&working);
    move || {
        key.with(|_| ());
        if working.opened.get().is_none() {
            return view! {
                <ActionSheet primary=words::BACK on_primary=leave link=Some(LinkState::Done)>
                    <h2 class="sheet-title" data-state="closed">{words::RUN_CLOSED}</h2>
                </ActionSheet>
            }
            .into_any();
        }
        let side = RwSignal::new(SheetMode::Step);
        let step = untrack(move || working.step());
        let shown = move || {
            step.clone().map(|step| match side.get() {
                SheetMode::Step if second_wanted(&step).is_none() => view! {
                    <ActionSheet
                        primary=words::CLOSE_STEP
                        on_primary=move |()| working.opened.set(None)
                    >
                        <StepHead step side />
                    </ActionSheet>
                }
                .into_any(),
                other => form(step, other, side),
            })
        };
        shown.into_any()
    }
}
