//! Every sentence of the plan's pages. The fields' names stand in `fields.rs`, beside their units.

use super::fields::Group;
use seamanship::plan::{Basis, LimitKind};

pub const TITLE: &str = "Plan for anchoring";
pub const OPENING: &str = "Opening the plan";
pub const EXAMPLE: &str = "No plan is signed yet. These are the figures of an example ship in an \
    invented bay: put in your own ship's before you rely on anything here.";
pub const FROM_LAST: &str =
    "The figures are those of the plan signed last, its times moved to today.";
pub const THE_PLAN: &str = "The plan";
pub const INPUTS: &str = "What is known and expected";
pub const TIDE: &str = "High and low waters";
pub const DANGERS: &str = "Dangers near";
pub const TIDE_AT: &str = "Time, UTC";
pub const TIDE_HEIGHT: &str = "Height, m";
pub const ADD_TIDE: &str = "Add a high or low water";
pub const ADD_DANGER: &str = "Add a danger";
pub const TAKE_AWAY: &str = "Take away";
pub const DANGER_NAME: &str = "Name";
pub const LATITUDE: &str = "Latitude";
pub const LONGITUDE: &str = "Longitude";
pub const CHARTED: &str = "Charted depth, m; empty: never to be touched";
pub const NO_ORDER: &str = "No order yet";
pub const NO_ORDER_BODY: &str =
    "A figure is missing or out of range; it is marked where it stands.";
pub const ON_DECK: &str = "on deck";
pub const SHACKLES: &str = "shackles";
pub const LEAVE_TO: &str = "A proposal. The master orders, by what he sees and by the ship's own safety \
    management system; nobody stands by the cable because a page says that it is safe.";
pub const SOURCE_AND_CAUTION: &str = "Source and caution";
pub const OWN_ORDER: &str = "Order in the master's own words, if another is meant";
pub const SIGN: &str = "Sign this plan";
pub const SIGNED: &str = "Signed. It is on this device and goes to the ship and the bow by itself.";
pub const ONLY_MASTER: &str = "Only the master signs a plan.";
pub const NOBODY_HERE: &str = "Nobody is enrolled on this device, so nobody can sign here. The master \
    enrols once, at the bow's pages.";
pub const WRONG_FIRST: &str = "A plan with a figure missing or out of range cannot be signed.";
pub const SAVING: &str = "Signing";
pub const LIMITS: &str = "Winds at which something gives";
pub const GIVES: &str = "What gives";
pub const GUSTS: &str = "Gusts";
pub const MEAN: &str = "Mean";
pub const PULL: &str = "Level pull";
pub const HOW_SHE_LIES: &str = "How the cable hangs";
pub const ROOM: &str = "Room to swing";
pub const DEPTH: &str = "Depth over the stay, UTC";
pub const CHECKS: &str = "Checks";
pub const RULES: &str = "Cable by each rule";
pub const RULE: &str = "Rule";
pub const CABLE: &str = "Cable";
pub const AT_GYPSY: &str = "At the gypsy";
pub const ABOARD: &str = "Aboard";
pub const FITS: &str = "Fits";
pub const THE_SHIPS: &str = "the ship's rule";
pub const BY_CATENARY: &str = "Catenary";
pub const BY_CATENARY_FORMULA: &str = "lifted by the pull, and the length to lie on the bottom";
pub const DISTANCE: &str = "Distance";
pub const BEARING: &str = "Bearing";
pub const CLEAR_BY: &str = "Clear by";
pub const DEEP_ENOUGH: &str = "Deep enough";
pub const TOO_NEAR: &str = "Too near";
pub const CLEAR: &str = "Clear";
pub const NOT_PLACED: &str = "Not placed";
pub const NO_DANGERS: &str = "No danger is entered.";
pub const ALSO: &str = "Method, speed, signals, sun";
pub const METHOD: &str = "Method";
pub const SPEED: &str = "Speed over the ground";
pub const SIGNALS: &str = "At anchor she shows and sounds";
pub const SUN: &str = "Sun, UTC";
pub const PULLS: &str = "Pull expected";
pub const EARLIER: &str = "Plans signed";
pub const NONE_SIGNED: &str = "None yet.";
pub const TAKE_FIGURES: &str = "Take its figures";
pub const GIVE_BACK: &str = "Back to what was typed";
pub const UNREADABLE: &str =
    "Its figures are of another version and cannot be read here; the order stands.";
pub const MASTERS_ORDER: &str = "The master's order";
pub const SEE_PLAN: &str = "See the plan";
pub const STAY_OVER: &str = "For a stay that is over";
pub const NO_PLAN: &str = "No plan is signed";
pub const NO_PLAN_BODY: &str =
    "The master signs it on the bridge. It comes here when the ship is in range.";
pub const NO_FIGURE: &str = "No figure";
pub const WAITS_FOR: &str = "rests on";
pub const PLAN_FOR: &str = "How much cable, which way, what limits. Needs no network.";
pub const BACK_TO_BOARD: &str = "Bridge";

/// Names a group.
pub fn group(group: Group) -> &'static str {
    match group {
        Group::Depth => "Depth and tide",
        Group::Stay => "Stay",
        Group::Weather => "Wind and current",
        Group::Anchor => "Ground and anchor",
        Group::Room => "Room and dangers",
        Group::Cable => "Cable aboard, side in use",
        Group::Ship => "Ship",
        Group::Gear => "Windlass, brake, stopper",
    }
}

/// Says what a group's figures are, where the names alone do not.
pub fn group_help(group: Group) -> Option<&'static str> {
    match group {
        Group::Weather => Some(
            "Yaw factor: pull at the end of a sheer over the steady pull. 1.5 snubbed and calm, 3 usual, \
             up to 5.",
        ),
        Group::Anchor => Some("Nothing in 'Ordered' leaves the length to the proposal."),
        Group::Cable => Some("Kept inboard: what must stay inside the gypsy, to the bitter end."),
        Group::Gear => Some(
            "Let go down to: deeper than this, hawse to bottom, the cable is walked out. No figure for the \
             stopper means that none is fitted.",
        ),
        _ => None,
    }
}

/// Puts what is wrong into a sentence with the field's name.
pub fn wrong(label: &str, words: &str) -> String {
    if words.starts_with("is ") || words.starts_with("has ") {
        format!("{label} {words}.")
    } else {
        format!("{label}: {words}.")
    }
}

/// Says what a proposal rests on.
pub fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Rule => "by the ship's rule",
        Basis::Catenary => "by the catenary",
        Basis::AllAboard => "all that can be veered",
        Basis::Ordered => "ordered",
    }
}

/// Says shortly what gives.
pub fn limit(kind: LimitKind) -> &'static str {
    match kind {
        LimitKind::ChainLifts => "last link lifts off the bottom",
        LimitKind::AnchorDrags => "anchor drags, by the lower figure of its holding",
        LimitKind::ChainLoad => "chain at 45 % of its breaking load",
        LimitKind::Brake => "brake at its holding load",
        LimitKind::Stopper => "stopper at its rating",
        LimitKind::ClassEnvelope => "wind that class equipment is meant for",
    }
}

/// Says who signed a plan and when.
pub fn signed(by: &str, when: &str) -> String {
    format!("Signed by {by}, {when}")
}
