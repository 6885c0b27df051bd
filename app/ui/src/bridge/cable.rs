//! The cable as the bow logs it: how much is out, how much the plan asks for, how it leads and weighs.

use super::board::heard;
use crate::parts::{CableScale, LeadDial};
use crate::port::{Device, device};
use crate::ships_marks::{cable_of, marks, out_m};
use crate::{time, words};
use journal::board::{PlanCard, RunCard};
use journal::cable::Seen;
use journal::{Board, cable};
use leptos::prelude::*;
use procedure::cable::{Side, side_word};
use procedure::{Cable, MarkAt};
use seamanship::plan::{PlanInput, work_out};

/// What the panel draws.
#[derive(Debug, Clone, PartialEq)]
struct Shown {
    side: Option<Side>,
    /// It goes out to what a plan orders; it comes home, or is veered, by the master's word.
    is_planned: bool,
    /// How much is out; none where no mark is known.
    out: Option<Seen>,
    /// Degrees from ahead, clockwise.
    lead_deg: Option<f64>,
    strain: u8,
    said: String,
}

/// Finds the run whose cable log was written last: of those under way, else of those that left cable out.
fn newest_run(board: &Board) -> Option<&RunCard> {
    let last = |card: &&RunCard| {
        let entries = cable::entries(&card.view);
        entries.map(|entry| entry.line.at_ms).max()
    };
    let under_way = board.open.iter().filter(|card| last(card).is_some());
    let left_out = |card: &&RunCard| {
        let mark = cable::newest_mark(&card.view, None);
        mark.is_some_and(|(_, out)| out.mark > 0.0)
    };
    under_way.max_by_key(last).or_else(|| {
        let closed = board.closed.iter().filter(|card| last(card).is_some());
        closed.max_by_key(last).filter(left_out)
    })
}

fn shown(board: &Board, device: Device) -> Option<Shown> {
    let card = newest_run(board)?;
    let view = &card.view;
    let now_ms = device.system.now_ms.get_untracked();
    let newest = cable::entries(view).max_by_key(|entry| entry.line.at_ms)?;
    let lies = |side: Option<Side>| {
        device
            .records
            .ledger
            .with(|ledger| cable::lies(ledger.as_ref()?, side, Some(card.run), now_ms))
    };
    let before = lies(newest.side);
    let own = cable::newest_mark(view, newest.side).map(|(_, out)| out);
    let side = newest.side.or_else(|| before.and_then(|lies| lies.side));
    let begins_home = cable::begins_home(view, newest.step);
    // Before the first mark of a weighing what went out before lies out still.
    let before = before.map(|lies| lies.out).filter(|_| !begins_home);
    let lead = cable::newest(view, side, |entry| entry.lead_oclock);
    let strain = cable::newest(view, side, |entry| entry.strain);
    Some(Shown {
        side,
        is_planned: begins_home,
        out: own.or(before),
        lead_deg: lead.map(|(_, hour)| f64::from(hour % 12) * 30.0),
        strain: strain.map_or(0, |(_, strain)| strain),
        said: format!("{} {}", time::clock(newest.line.at_ms), newest.line.words),
    })
}

/// Returns the mark that the newest signed plan for this side orders at the gypsy.
fn ordered(plans: &[PlanCard], side: Option<Side>) -> Option<f64> {
    let input: PlanInput = journal::json::read(&plans.first()?.input_json).ok()?;
    if side.is_some_and(|side| side != input.cable.side) {
        return None;
    }
    let proposed = work_out(&input).proposed.result.ok()?;
    Some(proposed.length.at_gypsy_shackles)
}

/// The panel; nothing while no cable is out and none is worked.
#[component]
pub fn CablePanel() -> impl IntoView {
    let heard = heard();
    let device = device();
    let now = Memo::new(move |_| {
        let shown = |board: &Board| shown(board, device);
        heard.board.with(|board| board.as_ref().and_then(shown))
    });
    let side = Memo::new(move |_| now.with(|now| now.as_ref().and_then(|now| now.side)));
    let plans = Memo::new(move |_| {
        let plans = |board: &Board| board.plans.clone();
        heard
            .board
            .with(|board| board.as_ref().map(plans).unwrap_or_default())
    });
    let is_planned =
        Memo::new(move |_| now.with(|now| now.as_ref().is_some_and(|now| now.is_planned)));
    let planned = Memo::new(move |_| {
        let ordered = || ordered(&plans.get(), side.get());
        is_planned.get().then(ordered).flatten()
    });
    let cable = Memo::new(move |_| cable_of(device, side.get()));
    let is_there = Memo::new(move |_| now.with(Option::is_some));
    let out = move || now.with(|now| now.as_ref().and_then(|now| now.out));
    let metres = move |mark: Option<f64>| {
        let described = |cable: &Option<Cable>| Some(cable.as_ref()?.metres_at(mark?));
        cable.try_with(described).flatten()
    };
    let out_m = Signal::derive(move || {
        let measured =
            |cable: &Option<Cable>| Some(out_m(device, cable.as_ref()?, side.get(), out()?));
        cable.try_with(measured).flatten().unwrap_or(f64::NAN)
    });
    let planned_m = Signal::derive(move || metres(planned.get()));
    let lead = Signal::derive(move || now.with(|now| now.as_ref().and_then(|now| now.lead_deg)));
    let weight = Signal::derive(move || now.with(|now| now.as_ref().map_or(0, |now| now.strain)));
    let said = Signal::derive(move || {
        now.with(|now| now.as_ref().map(|now| now.said.clone()).unwrap_or_default())
    });
    let said_out = Signal::derive(move || words::marks_out(out()));
    let to_come = move || {
        let ordered = planned.get()?;
        // What is ordered is counted at the gypsy, and so is what is to come.
        let out = out().filter(|out| out.at == MarkAt::Gypsy)?.mark;
        (ordered > out).then(|| words::to_come(ordered, ordered - out))
    };
    move || {
        is_there.get().then(|| {
            let scale = match cable.get() {
                Some(described) => view! {
                    <CableScale
                        out_m
                        aboard_m=described.total_m()
                        keep_m=described.keep_m.to_f64()
                        planned_m
                        marks=marks(&described)
                        said=said_out
                    />
                }
                .into_any(),
                None => view! {
                    <p>{said_out}</p>
                    <p class="quiet">{words::CABLE_NOT_DESCRIBED}</p>
                }
                .into_any(),
            };
            let head = side.get().map_or_else(
                || words::CABLE.to_owned(),
                |side| words::cable_of(side_word(side)),
            );
            view! {
                <section class="bridge-cable">
                    <h2 class="bridge-heading">{head}</h2>
                    {scale}
                    {move || to_come().map(|words| view! { <p class="quiet">{words}</p> })}
                    <LeadDial lead_deg=lead weight said />
                </section>
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_plan_for_the_other_anchor_orders_nothing_of_this_one() {
        let mut input = PlanInput::aldermere_demo();
        input.cable.side = Side::Starboard;
        let plan = PlanCard {
            id: record::RecordId([1; 32]),
            by: "Maren Holt".to_owned(),
            signed_ms: 0,
            title: String::new(),
            order: String::new(),
            input_json: serde_json::to_string(&input).unwrap(),
            reason: None,
        };
        let plans = [plan];
        let wanted = work_out(&input).proposed.result.unwrap().length;
        assert_eq!(
            ordered(&plans, Some(Side::Starboard)),
            Some(wanted.at_gypsy_shackles)
        );
        assert!(ordered(&plans, None).is_some());
        assert_eq!(ordered(&plans, Some(Side::Port)), None);
        assert_eq!(ordered(&[], None), None);
    }
}
