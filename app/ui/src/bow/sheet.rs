//! The sheet of one step: what to do, why, what to beware of, and the one large action.

mod again;
mod answers;
mod each;
mod item;
mod log;
mod names;
mod reading;
mod second;

use super::entries::Entries;
use super::fault::{FaultForm, GoOnForm, NotDoneForm, StrikeForm};
use super::people::PeopleSheet;
use super::position::PositionSheet;
use super::run::working;
use crate::hold_facts::{StandsOn, facts};
use crate::parts::{
    ActionSheet, Caution, Defect, DefectCard, Foredeck, HoldButton, LinkState, SheetState,
};
use crate::port::device;
use crate::run_links::{defect_weight, name_in};
use crate::{time, words};
use again::AgainSheet;
pub use answers::AnswerSheet;
use answers::{ChoiceSheet, CountSheet, PhotoSheet, TextSheet};
use each::EachSheet;
use item::ItemSheet;
use leptos::prelude::*;
use log::LogSheet;
use names::NamesSheet;
use procedure::{
    ConsentBy, Event, Kind, Outcome, PersonId, PointView, SecondView, Status, StepView, kind,
};
use reading::ReadingSheet;
use second::SecondSheet;

/// What the sheet shows: the step itself, or a form about it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SheetMode {
    /// The step.
    #[default]
    Step,
    /// The step, though an earlier run of the day has found what can be so still.
    Anew,
    /// What is wrong.
    Fault,
    /// Why it is not done.
    NotDone,
    /// Why it may go on.
    GoOn,
    /// Why an entry is wrong.
    Strike([u8; 32]),
}

/// What is said at the head of every sheet.
#[component]
pub fn StepHead(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let why = (!step.why.is_empty())
        .then(|| view! { <p class="sheet-more" data-text="procedure">{step.why.clone()}</p> });
    let how = (!step.how.is_empty()).then(|| {
        let lines = step
            .how
            .iter()
            .map(|line| view! { <li>{line.clone()}</li> });
        view! { <ul class="sheet-more sheet-how" data-text="procedure">{lines.collect_view()}</ul> }
    });
    view! {
        <h2 class="sheet-title" data-step=step.id.to_string() data-text="procedure">{step.instruction.clone()}</h2>
        {step.place.map(|place| view! { <Foredeck here=place /> })}
        {how}
        {why}
        {step.cautions.iter().map(|text| view! { <Caution text=text.clone() /> }).collect_view()}
        {above_keys(&step)}
        {(!step.words.is_empty()
            && !matches!(step.status, Status::ToDo | Status::Held)
            && second_wanted(&step).is_none())
            .then(|| view! { <p class="sheet-words">{step.words.clone()}</p> })}
        {on_step(&step)}
        <Entries step=step.id.clone() side />
    }
}

/// What is open on a step, in one line: above the keys its card would push them, or a caution, out of sight.
fn above_keys(step: &StepView) -> impl IntoView + use<> {
    let mut open = step.defects.iter().filter(|defect| defect.open);
    let newest = open.next().map(|defect| {
        let more = open.count();
        let line = words::open_defect(&defect.gear.join(", "), &defect.text);
        if more == 0 {
            line
        } else {
            words::open_defect_and_more(more, &line)
        }
    });
    newest.map(|line| view! { <p class="caution is-line">{line}</p> })
}

/// The open defects that stand on a step, raised here or on the same gear elsewhere.
fn on_step(step: &StepView) -> impl IntoView + use<> {
    let crew = working().crew.get_untracked();
    step.defects
        .iter()
        .filter(|defect| defect.open)
        .map(|defect| Defect {
            id: String::new(),
            title: defect.text.clone(),
            place: defect.gear.join(", "),
            raised: format!(
                "{}, {}",
                name_in(&crew, &defect.by),
                time::date_clock(defect.at_ms)
            ),
            standing: defect
                .history
                .last()
                .map(|line| line.words.clone())
                .unwrap_or_default(),
            severity: defect_weight(defect.severity),
        })
        .map(|defect| view! { <DefectCard defect /> })
        .collect_view()
}

/// The sheet of one step.
#[component]
pub fn StepSheet(step: StepView) -> impl IntoView {
    let side = RwSignal::new(SheetMode::Step);
    move || form(step.clone(), side.get(), side)
}

/// Draws the step, or the form about it that `shown` names.
pub fn form(step: StepView, shown: SheetMode, side: RwSignal<SheetMode>) -> AnyView {
    let on_back = move || side.set(SheetMode::Step);
    match shown {
        SheetMode::Step => {
            let found = untrack(|| again::offered(&step));
            if found.is_empty() {
                by_kind(step, side)
            } else {
                view! { <AgainSheet step found side /> }.into_any()
            }
        }
        SheetMode::Anew => by_kind(step, side),
        SheetMode::Fault => view! { <FaultForm step on_back side /> }.into_any(),
        SheetMode::NotDone => view! { <NotDoneForm step on_back /> }.into_any(),
        SheetMode::GoOn => view! { <GoOnForm step on_back /> }.into_any(),
        SheetMode::Strike(event) => view! { <StrikeForm step event on_back /> }.into_any(),
    }
}

/// Returns for which event a second person is to sign now, and who may not: once everything that the step asks for
/// is there, for nobody signs for half a reading.
pub fn second_wanted(step: &StepView) -> Option<([u8; 32], Vec<PersonId>)> {
    let SecondView::Wanted { event, not_by } = &step.second else {
        return None;
    };
    let is_read = |point: &PointView| point.value.is_some() || point.event.is_some();
    let is_whole = step.points.iter().all(is_read);
    let is_wanted = is_whole && (step.second_later || matches!(step.status, Status::Waiting(_)));
    is_wanted.then(|| (*event, not_by.clone()))
}

fn by_kind(step: StepView, side: RwSignal<SheetMode>) -> AnyView {
    if let Some((event, not_by)) = second_wanted(&step) {
        return view! { <SecondSheet step event not_by side /> }.into_any();
    }
    match step.kind.clone() {
        Kind::Reading { .. } => view! { <ReadingSheet step side /> }.into_any(),
        Kind::Choice { .. } => view! { <ChoiceSheet step side /> }.into_any(),
        Kind::Count(kind::Count { of, .. }) => view! { <CountSheet step of side /> }.into_any(),
        Kind::Item(_) => view! { <ItemSheet step side /> }.into_any(),
        Kind::Each(each) if each.points.is_empty() => {
            view! { <EachSheet step each side /> }.into_any()
        }
        Kind::Each(_) => view! { <ReadingSheet step side /> }.into_any(),
        Kind::Names(names) => view! { <NamesSheet step names side /> }.into_any(),
        Kind::Text(_) => view! { <TextSheet step side /> }.into_any(),
        Kind::Position(_) => view! { <PositionSheet step side /> }.into_any(),
        Kind::Hold(kind::Hold { radio, .. }) => view! { <HoldSheet step radio side /> }.into_any(),
        Kind::Log { .. } => view! { <LogSheet step side /> }.into_any(),
        Kind::People { .. } => view! { <PeopleSheet step side /> }.into_any(),
        Kind::Photo(_) => view! { <PhotoSheet step side /> }.into_any(),
        Kind::Timer(_) => view! { <TimerSheet step side /> }.into_any(),
        Kind::Confirm(_) | Kind::Wait { .. } => view! { <ConfirmSheet step side /> }.into_any(),
    }
}

/// Says whether the first action can be taken: never while the last press is on its way to the disk.
pub fn sheet_state(
    event: impl Fn() -> Option<Event> + Send + Sync + 'static,
) -> Signal<SheetState> {
    let working = working();
    let device = device();
    Signal::derive(move || {
        if device.records.saving.get() {
            return SheetState::Saving;
        }
        let refusal = event().and_then(|event| working.refusal(&event));
        refusal.map_or(SheetState::Ready, SheetState::Blocked)
    })
}

/// Turns the sheet to the form about what is wrong.
pub fn to_fault(side: RwSignal<SheetMode>) -> Callback<()> {
    Callback::new(move |()| side.set(SheetMode::Fault))
}

fn done(step: &StepView, outcome: Outcome) -> Event {
    Event::Done {
        step: step.id.clone(),
        outcome,
    }
}

#[component]
fn ConfirmSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let device = device();
    let event = done(&step, Outcome::Confirmed);
    let asked = event.clone();
    let ends = step.ends_at_ms;
    view! {
        <ActionSheet
            primary=words::DONE
            on_primary=move |()| working.say(event.clone())
            secondary=words::NOT_SO
            on_secondary=to_fault(side)
            state=sheet_state(move || Some(asked.clone()))
        >
            <StepHead step=step.clone() side />
            {ends
                .map(|ends| {
                    view! {
                        <p class="sheet-countdown">
                            {move || time::countdown(ends - device.system.now_ms.get())}
                        </p>
                    }
                })}
        </ActionSheet>
    }
}

/// Starts a timer. While it runs the key is refused, and the page shows over the sheet how much is left.
#[component]
fn TimerSheet(step: StepView, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let event = done(&step, Outcome::Confirmed);
    let asked = event.clone();
    let primary = if step.passed {
        words::START_TIMER_AGAIN
    } else {
        words::START_TIMER
    };
    view! {
        <ActionSheet
            primary
            on_primary=move |()| working.say(event.clone())
            secondary=words::NOT_SO
            on_secondary=to_fault(side)
            state=sheet_state(move || Some(asked.clone()))
        >
            <StepHead step=step.clone() side />
        </ActionSheet>
    }
}

#[component]
fn HoldSheet(step: StepView, radio: bool, side: RwSignal<SheetMode>) -> impl IntoView {
    let working = working();
    let device = device();
    let asking_whom = RwSignal::new(false);
    let id = StoredValue::new(step.id.clone());
    let consent = move |how: ConsentBy, granted: bool| Event::Consent {
        step: id.get_value(),
        granted,
        how,
        words: String::new(),
    };
    let mine = consent(ConsentBy::Network, true);
    let may_give = Memo::new(move |_| working.refusal(&mine).is_none());
    let stands_on = untrack(|| {
        let found = working.card.with(|card| {
            let facts = |card: &journal::RunCard| facts(&card.view, &step.id, &working.crew.get());
            card.as_ref().map(facts).unwrap_or_default()
        });
        view! { <StandsOn facts=found now_ms=device.system.now_ms /> }
    });
    let me = device.me().map(|me| me.person).unwrap_or_default();
    // While something else comes first nobody can have given it, whoever was heard.
    let waits = match &step.status {
        Status::Waiting(because) if !because.is_empty() => Some(because.clone()),
        _ => None,
    };
    let givers = move || {
        let keys: Vec<_> = working
            .crew
            .get()
            .into_iter()
            .filter(|member| member.id != me)
            .filter_map(|member| {
                let from = PersonId::new(member.id.clone());
                let event = consent(ConsentBy::Radio { from }, true);
                // Who may give it is the engine's to say: by the hold's role, and by who did what it checks.
                working.refusal(&event).is_none().then_some((member, event))
            })
            .map(|(member, event)| {
                view! {
                    <button
                        type="button"
                        class="button"
                        on:click=move |_| {
                            asking_whom.set(false);
                            working.say(event.clone());
                        }
                    >
                        {member.name.clone()}
                        ", "
                        {member.rank.clone()}
                    </button>
                }
            })
            .collect();
        if keys.is_empty() {
            let stop = working
                .card
                .with(|card| card.as_ref()?.view.stopped.clone());
            let why = match (stop, &waits) {
                (Some(stop), _) => words::stopped(&stop, &working.crew.get()),
                (None, Some(because)) => words::waits(because),
                (None, None) => words::NOBODY_MAY_GIVE.to_owned(),
            };
            view! { <p class="sheet-words">{why}</p> }.into_any()
        } else {
            keys.into_any()
        }
    };
    view! {
        <ActionSheet link=Some(LinkState::Hold) secondary=words::NOT_SO on_secondary=to_fault(side)>
            <StepHead step=step.clone() side />
            {stands_on}
            <p class="sheet-words">{words::CONSENT_ASKED}</p>
            {move || {
                asking_whom
                    .get()
                    .then(|| {
                        view! {
                            <p class="sheet-more">{words::HEARD_FROM}</p>
                            <div class="sheet-choices">
                                {givers.clone()()}
                                <button
                                    type="button"
                                    class="button is-back"
                                    on:click=move |_| asking_whom.set(false)
                                >
                                    {words::NOT_HEARD_FROM_ANYONE}
                                </button>
                            </div>
                        }
                    })
            }}
            {move || {
                may_give
                    .get()
                    .then(|| {
                        view! {
                            <HoldButton
                                label=words::GIVE_CONSENT
                                on_held=move |()| {
                                    working.say(consent(ConsentBy::Network, true));
                                }
                            />
                        }
                    })
            }}
            {move || {
                (radio && !may_give.get() && !asking_whom.get())
                    .then(|| {
                        view! {
                            <HoldButton
                                label=words::HEARD_BY_RADIO
                                on_held=move |()| asking_whom.set(true)
                            />
                        }
                    })
            }}
        </ActionSheet>
    }
}
