//! What cannot wait for the right page: stop, man down, dragging. One press each, on every page at the bow; words come after.

use super::stop::stop_event;
use crate::parts::HoldButton;
use crate::port::{Device, RecordCommand, device};
use crate::words;
use journal::ledger::RunFile;
use journal::{Ledger, RunId};
use leptos::prelude::*;
use leptos_router::NavigateOptions;
use leptos_router::hooks::use_navigate;
use procedure::{Event, Procedure, RunState};

/// The procedure that a dragging anchor is worked by, and the watch during which it is seen.
const DRAGGING: &str = "dragging";
const AT_ANCHOR: &str = "at-anchor";

/// A run without news for longer is not being worked, ms.
const WORKED_MS: i64 = 86_400_000;

/// What can be pressed now.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
struct AtHand {
    /// Runs that a stop would stop.
    worked: Vec<RunId>,
    /// Where people are in a space.
    people: Option<RunId>,
    /// An anchor may be on the ground, and the ship has a procedure for when it drags.
    may_drag: bool,
    /// The run that works it already.
    drags: Option<RunId>,
}

fn keeps(file: &RunFile, wanted: impl Fn(&Procedure) -> bool) -> bool {
    file.procedure.as_ref().is_some_and(|known| wanted(known))
}

fn at_hand(ledger: &Ledger, now_ms: i64) -> AtHand {
    let mut found = AtHand::default();
    let is_about_cable = |procedure: &Procedure| {
        let mut steps = procedure.steps().iter();
        procedure.slug() == AT_ANCHOR || steps.any(|step| step.kind.cable().is_some())
    };
    for file in ledger.open_runs() {
        let is = |wanted: fn(&RunState) -> bool| file.state.as_deref().is_some_and(wanted);
        if is(RunState::has_people_inside) {
            found.people = Some(file.id);
        }
        if now_ms - file.newest_ms > WORKED_MS {
            continue;
        }
        if !is(RunState::is_stopped) {
            found.worked.push(file.id);
        }
        found.may_drag |= keeps(file, is_about_cable);
        if keeps(file, |known| known.slug() == DRAGGING) {
            found.drags = Some(file.id);
        }
    }
    found.may_drag &= ledger.current(DRAGGING).is_some();
    found
}

/// Whether the page's own key stops its run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stops {
    /// It does.
    Itself,
    /// There is none: all that is worked is stopped from here.
    All,
}

/// The keys, as far as there is something for them.
#[component]
pub fn EmergencyKeys(stops: Stops) -> impl IntoView {
    let device = device();
    let navigate = use_navigate();
    let at = Memo::new(move |_| {
        let now_ms = device.system.now_ms.get_untracked();
        let found = device
            .records
            .ledger
            .with(|ledger| Some(at_hand(ledger.as_ref()?, now_ms)));
        found.filter(|_| device.me().is_some()).unwrap_or_default()
    });
    let go = Callback::new(move |run: RunId| {
        navigate(&format!("/bow/run/{run}"), NavigateOptions::default());
    });
    let drag = move |()| match at.get_untracked().drags {
        Some(run) => go.run(run),
        None => device.dispatch(RecordCommand::Start {
            slug: DRAGGING.to_owned(),
            choices: Vec::new(),
        }),
    };
    let down = move |()| {
        if let Some(run) = at.get_untracked().people {
            say(
                device,
                vec![(run, stop_event(words::MAN_DOWN_CAUSE.text()))],
            );
            go.run(run);
        }
    };
    let stop = move |()| {
        let worked = at.get_untracked().worked.into_iter();
        let all = worked.map(|run| (run, stop_event(words::STOP_CAUSE.text())));
        say(device, all.collect());
    };
    move || {
        let AtHand {
            worked,
            people,
            may_drag,
            ..
        } = at.get();
        let stops = stops == Stops::All && !worked.is_empty();
        (stops || people.is_some() || may_drag).then(|| {
            view! {
                <div class="bow-emergency">
                    {people.map(|_| view! { <HoldButton label=words::MAN_DOWN_KEY on_held=down /> })}
                    {may_drag.then(|| view! { <HoldButton label=words::DRAGGING_KEY on_held=drag /> })}
                    {stops.then(|| view! { <HoldButton label=words::STOP_WORK on_held=stop /> })}
                </div>
            }
        })
    }
}

fn say(device: Device, all: Vec<(RunId, Event)>) {
    device.dispatch(RecordCommand::SayAll(all));
}
