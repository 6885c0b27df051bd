//! What is on record of the ship, her anchor and her anchorage: what the watch starts from.

use journal::board::{run_card, signed_plans};
use journal::cable::{self, Seen};
use journal::watch::OnRecord;
use journal::{Ledger, RunCard};
use procedure::cable::Side;
use procedure::{Grows, LogEntry, MarkAt};
use seamanship::plan::PlanInput;
use seamanship::tide::{Curve, Extreme};
use seamanship::time::UtcMs;
use seamanship::units::Metres;
use seamanship::watch::{Antenna, Place, Setup, WindLimits};

/// The plan of another anchorage says nothing of this one: so far from the place planned the anchor may lie.
/// Source: our own, common practice, no source.
const PLAN_WITHIN_M: f64 = 2_000.0;

/// What is on record.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Known {
    /// What the watch judges by.
    pub setup: Setup,
    /// Dangers of the plan: name and place.
    pub dangers: Vec<(String, Place)>,
    /// How the cable leads and weighs, as logged last, in words.
    pub lead: String,
    /// When the anchor went to the ground, as the bow has logged it last, ms.
    pub on_the_bottom_ms: Option<i64>,
    /// When the bow called the anchor aweigh, as an open run of weighing has it, ms; none while the other anchor lies.
    pub aweigh_ms: Option<i64>,
    /// How long the windlass heaves for all of the cable, min.
    pub weigh_min: Option<f64>,
    /// When the watch that is kept takes its next bearings, ms UTC.
    pub bearings_due_ms: Option<i64>,
    /// What is not known, in words.
    pub missing: Vec<String>,
}

impl Known {
    /// Gathers what is on record at a moment.
    pub fn gather(ledger: &Ledger, on: &OnRecord, now_ms: i64) -> Self {
        let anchor = on.anchor_e7.map(|(lat, lon)| Place {
            lat: f64::from(lat) / 1e7,
            lon: f64::from(lon) / 1e7,
        });
        let plan = plan_for(ledger, anchor);
        let cards: Vec<RunCard> = ledger
            .open_runs()
            .filter_map(|run| run_card(ledger, run.id, now_ms))
            .collect();
        let (cable_m, lead) = cable_out(ledger, on, plan.as_ref(), now_ms);
        let limits = wind_limits(ledger, &cards);
        let ship = plan.as_ref().map(|plan| &plan.ship);
        let setup = Setup {
            anchor,
            cable_m,
            depth_m: plan.as_ref().and_then(|plan| water_m(plan, now_ms)),
            hawse_height_m: ship.map(|ship| ship.hawse_height_m),
            length_m: ship.map(|ship| ship.length_overall_m),
            antenna: ship.map(|ship| Antenna {
                forward_m: -ship.bow_to_antenna_m,
                starboard_m: 0.0,
            }),
            wind_limits_kn: limits,
            ukc_min_m: ship.map(|ship| ship.least_under_keel_m),
            draught_m: ship.map(|ship| ship.draught_m),
            ..Setup::default()
        };
        let missing = [
            ("the signed plan for this place", plan.is_none()),
            ("the cable that is out", setup.cable_m.is_none()),
            (
                "the depth: the plan's tide does not reach this hour",
                plan.is_some() && setup.depth_m.is_none(),
            ),
        ];
        let speed = plan.as_ref().map(|plan| plan.gear.windlass_speed_m_per_min);
        let weighed = cable_m.zip(speed.filter(|speed| *speed > 0.0));
        Self {
            weigh_min: weighed.map(|(cable, speed)| cable / speed),
            bearings_due_ms: bearings_due(&cards),
            dangers: plan.map(dangers).unwrap_or_default(),
            lead,
            aweigh_ms: cards
                .iter()
                .filter_map(|card| aweigh(ledger, card, now_ms))
                .max(),
            on_the_bottom_ms: cards.iter().filter_map(on_the_bottom).max(),
            missing: missing
                .into_iter()
                .filter(|(_, is_missing)| *is_missing)
                .map(|(words, _)| words.to_owned())
                .collect(),
            setup,
        }
    }
}

/// Returns the newest plan that a master has signed for this place; without an anchor, for any.
fn plan_for(ledger: &Ledger, anchor: Option<Place>) -> Option<PlanInput> {
    let is_here = |plan: &PlanInput| {
        let Some(anchor) = anchor else {
            return true;
        };
        let position = |latitude_deg, longitude_deg| seamanship::position::Position {
            latitude_deg,
            longitude_deg,
        };
        let planned = position(plan.place.latitude_deg, plan.place.longitude_deg);
        let lies = position(anchor.lat, anchor.lon);
        let away = seamanship::position::way(planned, lies);
        away.is_ok_and(|away| away.distance.0 <= PLAN_WITHIN_M)
    };
    let mut plans = signed_plans(ledger)
        .filter_map(|card| serde_json::from_str::<PlanInput>(&card.input_json).ok());
    plans.find(is_here)
}

fn dangers(plan: PlanInput) -> Vec<(String, Place)> {
    let place = |danger: &seamanship::plan::Danger| Place {
        lat: danger.latitude_deg,
        lon: danger.longitude_deg,
    };
    let dangers = plan.dangers.into_iter();
    dangers
        .map(|danger| (danger.name.clone(), place(&danger)))
        .collect()
}

/// Returns the water at the place planned by the plan's own tide; none outside the hours of its table.
fn water_m(plan: &PlanInput, now_ms: i64) -> Option<f64> {
    let extremes = plan.stay.tide.iter().map(|mark| Extreme {
        at: mark.at_utc_ms,
        height: Metres(mark.height_m),
    });
    let curve = Curve::new(extremes.collect()).ok()?;
    let tide = curve.height(UtcMs(now_ms)).ok()?;
    Some(plan.place.charted_depth_m + tide.0)
}

/// Returns the cable from the hawse, and how it lies: the newest of what the bow logged and what an officer gave.
fn cable_out(
    ledger: &Ledger,
    on: &OnRecord,
    plan: Option<&PlanInput>,
    now_ms: i64,
) -> (Option<f64>, String) {
    let given = on.cable.map(|(at_ms, cm)| (at_ms, f64::from(cm) / 100.0));
    let lies = cable::lies(ledger, None, None, now_ms);
    let logged = lies.and_then(|lies| {
        let side = lies.side.or(plan.map(|plan| plan.cable.side));
        Some((lies.at_ms, from_hawse_m(ledger, plan, side?, lies.out)?))
    });
    let newest = [given, logged].into_iter().flatten();
    let newest = newest.max_by_key(|(at_ms, _)| *at_ms);
    let lead = lies.and_then(|lies| {
        let card = run_card(ledger, lies.run, now_ms)?;
        let said = cable::newest(&card.view, lies.side, said_lead)?;
        Some(said.1)
    });
    (
        newest
            .map(|(_, metres)| metres)
            .filter(|metres| *metres > 0.0),
        lead.unwrap_or_default(),
    )
}

/// Returns how much cable lies outside the hawse for a mark. Between gypsy and hawse the whole of it counts as outside: the
/// reach is then a few metres long, and never short.
fn from_hawse_m(ledger: &Ledger, plan: Option<&PlanInput>, side: Side, out: Seen) -> Option<f64> {
    let of_plan = plan.map(|plan| match side {
        Side::Port => &plan.cable.port,
        Side::Starboard => &plan.cable.starboard,
    });
    let described = ledger
        .settings()
        .cables
        .of(side)
        .map(|cable| cable.metres_at(out.mark));
    let length = || Some(of_plan?.shackle_length_m * out.mark).filter(|metres| *metres > 0.0);
    let metres = described.or_else(length)?;
    Some(match out.at {
        MarkAt::Gypsy => metres - of_plan.map_or(0.0, |cable| cable.deck_lead_m),
        MarkAt::OnDeck | MarkAt::Hawse => metres,
        MarkAt::Water => metres + plan.map_or(0.0, |plan| plan.ship.hawse_height_m),
    })
}

fn said_lead(entry: &LogEntry) -> Option<String> {
    let mut words = Vec::new();
    if let Some(clock) = entry.lead_oclock {
        words.push(format!("leads {clock} o'clock"));
    }
    if let Some(grows) = entry.grows {
        words.push(
            match grows {
                Grows::UpAndDown => "up and down",
                Grows::ShortStay => "short stay",
                Grows::Medium => "medium stay",
                Grows::LongStay => "long stay",
                Grows::Slack => "slack",
                Grows::UnderTheBow => "under the bow",
                Grows::Aweigh => "aweigh",
            }
            .to_owned(),
        );
    }
    if let Some(strain) = entry.strain {
        let weights = ["no weight", "light", "moderate", "heavy", "too heavy"];
        words.extend(
            weights
                .get(usize::from(strain))
                .map(|word| (*word).to_owned()),
        );
    }
    (!words.is_empty()).then(|| words.join(", "))
}

/// Returns the master's limits: those for this anchorage where the watch that is kept has them, else his standing ones.
fn wind_limits(ledger: &Ledger, cards: &[RunCard]) -> WindLimits {
    let settings = ledger.settings();
    let of_run = |point: &str| {
        let runs = cards.iter().filter(|card| card.slug == "at-anchor");
        let steps = runs.flat_map(|card| &card.view.steps);
        let mut points = steps
            .filter(|step| step.id.as_str() == "limits")
            .flat_map(|step| &step.points);
        let value = points.find(|known| known.key == point)?.value?;
        Some(value.to_f64())
    };
    let standing = |key: &str| settings.get(key).map(|setting| setting.value.to_f64());
    WindLimits {
        call: of_run("wind-call").or(standing("watch_wind_call")),
        engines: of_run("wind-engines").or(standing("watch_wind_engines")),
        weigh: of_run("wind-weigh").or(standing("watch_wind_weigh")),
    }
}

/// Returns when the next entry of the watch that is kept is due.
fn bearings_due(cards: &[RunCard]) -> Option<i64> {
    let kept = cards.iter().filter(|card| card.slug == "at-anchor");
    let steps = kept.flat_map(|card| &card.view.steps);
    steps
        .filter(|step| step.applies)
        .filter_map(|step| step.entry_due_ms)
        .min()
}

/// Returns when the anchor touched the ground, or was let go, as an open run of letting go has it.
fn on_the_bottom(card: &RunCard) -> Option<i64> {
    if card.slug != "letting-go" {
        return None;
    }
    let done = |id: &str| {
        let mut steps = card.view.steps.iter();
        let step = steps.find(|step| step.id.as_str() == id && step.applies)?;
        step.at_ms.filter(|_| step.passed)
    };
    done("touch").or_else(|| done("let-go"))
}

/// Returns when the anchor was called aweigh, where a run of weighing has it and no other anchor holds the ship.
fn aweigh(ledger: &Ledger, card: &RunCard, now_ms: i64) -> Option<i64> {
    if card.slug != "weighing" {
        return None;
    }
    let step = |id: &str| card.view.steps.iter().find(|step| step.id.as_str() == id);
    let at_ms = step("aweigh")
        .filter(|step| step.applies && step.passed)?
        .at_ms;
    let other = match cable::log_side(&card.view, step("cable")?)? {
        Side::Port => Side::Starboard,
        Side::Starboard => Side::Port,
    };
    let lies = cable::lies(ledger, Some(other), Some(card.run), now_ms);
    at_ms.filter(|_| lies.is_none_or(|lies| lies.out.mark <= 0.0))
}
