//! What comes out of a plan, part by part, and everything needed to draw it.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use crate::catenary::{Point, Status};
use crate::rules::CableRule;
use crate::signals::Signals;
use crate::sun::Day;
use crate::time::UtcMs;

/// Why a part of the plan has no result: which input, and what is wrong with it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Problem {
    /// The input, as a path in [`PlanInput`](super::PlanInput): `weather.wind_kn`.
    pub field: String,
    /// What is wrong, in words.
    pub words: String,
}

/// One part of the plan: its result or its problem, with source and caution.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Part<T> {
    /// The result, or why there is none.
    pub result: Result<T, Problem>,
    /// What it comes from.
    pub source: Cow<'static, str>,
    /// What to know before relying on it.
    pub caution: Cow<'static, str>,
}

/// A plan, worked out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanOutput {
    /// Depth over the stay.
    pub depth: Part<Depth>,
    /// What pulls on her in the weather expected.
    pub pull: Part<Pull>,
    /// Length by each handbook rule.
    pub by_rule: Vec<RuleRow>,
    /// Length by the catenary for the pull expected.
    pub by_catenary: Part<Length>,
    /// The length proposed, with its reason.
    pub proposed: Part<Proposed>,
    /// How the chain hangs at the proposed or ordered length under the pull expected.
    pub hanging: Part<Hanging>,
    /// What anchor and chain hold.
    pub holding: Part<Holding>,
    /// The winds at which something gives.
    pub limits: Part<Limits>,
    /// The swinging circle and what lies near.
    pub room: Part<Room>,
    /// Whether the windlass lifts it home.
    pub windlass: Part<WindlassCheck>,
    /// Brake and stopper against the chain.
    pub brake: Part<BrakeCheck>,
    /// Walk back or let go.
    pub method: Part<Method>,
    /// How fast she may move over the ground.
    pub speeds: Part<Speeds>,
    /// Lights, shapes and sound.
    pub signals: Part<Signals>,
    /// The Sun on the day the stay begins.
    pub sun: Part<Day>,
}

/// Depth over the stay.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Depth {
    /// Least depth of water.
    pub water_least_m: f64,
    /// Greatest depth of water.
    pub water_greatest_m: f64,
    /// Least depth under the keel, waves allowed for.
    pub under_keel_least_m: f64,
    /// When.
    pub under_keel_least_at: UtcMs,
    /// Whether the ship's least depth under the keel is kept.
    pub is_enough: bool,
    /// Greatest height of the hawse above the bottom.
    pub hawse_greatest_m: f64,
    /// When.
    pub hawse_greatest_at: UtcMs,
    /// Depth over the stay, evenly spaced, for drawing.
    pub series: Vec<DepthPoint>,
}

/// Depth at one time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DepthPoint {
    /// When.
    pub at_utc_ms: UtcMs,
    /// Depth of water.
    pub water_m: f64,
    /// Depth under the keel, waves allowed for.
    pub under_keel_m: f64,
}

/// What pulls on her.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pull {
    /// Wind, at the gusts.
    pub wind_kilonewtons: f64,
    /// Current along the hull.
    pub current_kilonewtons: f64,
    /// Most that the waves push steadily.
    pub waves_kilonewtons: f64,
    /// All together, head on.
    pub steady_kilonewtons: f64,
    /// At the end of a sheer: the pull that the plan counts with.
    pub design_kilonewtons: f64,
    /// Where the steady wind and current push her, degrees true; none if they cancel.
    pub toward_deg: Option<f64>,
}

/// A length, and whether it is aboard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Length {
    /// Hawse to anchor.
    pub length_m: f64,
    /// The same in the ship's shackles.
    pub shackles: f64,
    /// Mark at the gypsy with that length out: the deck lead is added.
    pub at_gypsy_shackles: f64,
    /// Length over the greatest height of the hawse above the bottom.
    pub scope: f64,
    /// Whether it is aboard.
    pub fit: Fit,
}

/// Whether a length is aboard, the lead and what must stay inboard taken off.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Fit {
    /// Most that can lie outside the hawse.
    pub usable_m: f64,
    /// What is missing; 0 if it fits.
    pub short_by_m: f64,
}

impl Fit {
    /// Says whether the length is aboard.
    pub fn fits(&self) -> bool {
        self.short_by_m <= 0.0
    }
}

/// Length by one handbook rule.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RuleRow {
    /// Which rule.
    pub rule: CableRule,
    /// Its name.
    pub name: Cow<'static, str>,
    /// Its formula.
    pub formula: Cow<'static, str>,
    /// Whether it is the one that the ship has chosen.
    pub is_chosen: bool,
    /// The length.
    pub length: Part<Length>,
}

/// What a proposed length rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// The ship's handbook rule.
    Rule,
    /// The catenary for the pull expected.
    Catenary,
    /// All that is aboard: the rest is missing.
    AllAboard,
    /// The master's order.
    Ordered,
}

/// The length proposed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Proposed {
    /// The length to veer, rounded up to half a shackle at the gypsy.
    pub length: Length,
    /// What it rests on.
    pub basis: Basis,
    /// Why, in words.
    pub reason: String,
    /// What was wanted before looking whether it is aboard.
    pub wanted_m: f64,
}

/// How the chain hangs.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Hanging {
    /// Length from hawse to anchor.
    pub length_m: f64,
    /// Height of the hawse above the bottom.
    pub hawse_m: f64,
    /// How it lies.
    pub status: Status,
    /// Length off the bottom.
    pub suspended_m: f64,
    /// Length on the bottom.
    pub grounded_m: f64,
    /// Level distance from hawse to anchor.
    pub reach_m: f64,
    /// Tension at the hawse.
    pub tension_kilonewtons: f64,
    /// Angle below the level at the hawse.
    pub angle_at_hawse_deg: f64,
    /// Angle above the level at the anchor.
    pub angle_at_anchor_deg: f64,
    /// Level pull at which the last link lifts.
    pub lift_kilonewtons: f64,
    /// The curve from the anchor to the hawse, to scale.
    pub curve: Vec<Point>,
}

/// What anchor and chain hold, as a band.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Holding {
    /// The anchor, at least.
    pub anchor_low_kilonewtons: f64,
    /// The anchor, at most.
    pub anchor_high_kilonewtons: f64,
    /// The chain on the bottom.
    pub chain_kilonewtons: f64,
    /// Both, at least.
    pub low_kilonewtons: f64,
    /// Both, at most.
    pub high_kilonewtons: f64,
    /// Lower figure over the pull expected; below 1 she drags.
    pub margin: Option<f64>,
}

/// What gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitKind {
    /// The last link lifts off the bottom.
    ChainLifts,
    /// The anchor drags, by the lower figure of its holding.
    AnchorDrags,
    /// The chain reaches 45 % of its breaking load.
    ChainLoad,
    /// The brake reaches its holding load.
    Brake,
    /// The stopper reaches its rating.
    Stopper,
    /// The wind for which class equipment is meant.
    ClassEnvelope,
}

/// The wind at which one thing gives.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LimitRow {
    /// What gives.
    pub kind: LimitKind,
    /// In words.
    pub words: Cow<'static, str>,
    /// Level pull at which it does; none for the class envelope.
    pub pull_kilonewtons: Option<f64>,
    /// Gust at which it does.
    pub gust_kn: f64,
    /// Mean wind that has such gusts.
    pub mean_kn: f64,
}

/// The winds at which something gives.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// Each limit, smallest first.
    pub rows: Vec<LimitRow>,
    /// Whether the weather expected is beyond the smallest.
    pub is_exceeded: bool,
    /// What to do beyond the smallest, in words.
    pub beyond: String,
}

impl Limits {
    /// Returns the limit that comes first.
    pub fn smallest(&self) -> Option<&LimitRow> {
        self.rows.first()
    }
}

/// The swinging circle and what lies near.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Room {
    /// The stern sweeps this far from the anchor, by the straight chain: the safe side.
    pub swing_radius_m: f64,
    /// The stern sweeps this far under the pull expected.
    pub swing_radius_expected_m: f64,
    /// The antenna stays within this of the anchor: the watch circle.
    pub watch_radius_m: f64,
    /// What must be clear: swing, position error and clearance.
    pub needed_radius_m: f64,
    /// Clear radius given less what is needed; negative if too small.
    pub room_spare_m: Option<f64>,
    /// What lies near, nearest first.
    pub dangers: Vec<DangerSeen>,
    /// Whether everything stays clear.
    pub is_clear: bool,
}

/// A danger as seen from the anchor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DangerSeen {
    /// Name.
    pub name: String,
    /// Distance from the anchor, or why there is none.
    pub seen: Result<Seen, Problem>,
}

/// Where a danger lies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Seen {
    /// Distance from the anchor.
    pub distance_m: f64,
    /// Bearing from the anchor, degrees true; none on top of it.
    pub bearing_deg: Option<f64>,
    /// East of the anchor, for drawing.
    pub east_m: f64,
    /// North of the anchor, for drawing.
    pub north_m: f64,
    /// Whether she would touch it at low water, or it is never to be touched.
    pub is_foul: bool,
    /// Distance left beyond what is needed; negative if too near.
    pub clear_by_m: f64,
}

/// Whether the windlass lifts it home.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct WindlassCheck {
    /// Pull needed at the gypsy with anchor and chain hanging at the greatest depth.
    pub needed_kilonewtons: f64,
    /// Pull by the certificate.
    pub certificate_kilonewtons: f64,
    /// Continuous pull that class asks for this chain at this depth.
    pub class_kilonewtons: f64,
    /// Greatest height of the hawse above the bottom that the certificate lifts from.
    pub greatest_depth_m: f64,
    /// Whether it lifts.
    pub is_enough: bool,
    /// Time to heave in the length out.
    pub heave_minutes: f64,
}

/// Brake and stopper against the chain.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BrakeCheck {
    /// Breaking load of the chain.
    pub breaking_kilonewtons: f64,
    /// Holding load of the brake.
    pub brake_kilonewtons: f64,
    /// What class asks of the brake: 45 % with a stopper, 80 % without.
    pub brake_asked_kilonewtons: f64,
    /// Whether the brake has it.
    pub brake_is_enough: bool,
    /// Rating of the stopper.
    pub stopper_kilonewtons: Option<f64>,
    /// What class asks of the stopper: 80 %.
    pub stopper_asked_kilonewtons: f64,
    /// Whether the stopper has it; none without a stopper.
    pub stopper_is_enough: Option<bool>,
}

/// How to lay the anchor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Method {
    /// Which way.
    pub laying: crate::windlass::Laying,
    /// Why, in words.
    pub reason: String,
}

/// How fast she may move over the ground.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Speeds {
    /// While the windlass walks the chain out: its own speed.
    pub walk_out_kn: f64,
    /// When the anchor touches.
    pub touch_kn: f64,
    /// While the chain is laid out under the brake.
    pub lay_out_kn: f64,
}
