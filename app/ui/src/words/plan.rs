//! What the plan's pages say. The fields' names stand in `fields.rs`, beside their units.

use super::Word;
use crate::bridge::plan::fields::Group;
pub use said::*;
use seamanship::plan::{Basis, LimitKind};

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/plan.rs"));
}

/// Names a group.
pub fn group(group: Group) -> Word {
    match group {
        Group::Depth => GROUP_DEPTH,
        Group::Stay => GROUP_STAY,
        Group::Weather => GROUP_WEATHER,
        Group::Anchor => GROUP_ANCHOR,
        Group::Room => GROUP_ROOM,
        Group::Cable => GROUP_CABLE,
        Group::Ship => GROUP_SHIP,
        Group::Gear => GROUP_GEAR,
    }
}

/// Says what a group's figures are, where the names alone do not.
pub fn group_help(group: Group) -> Option<Word> {
    match group {
        Group::Weather => Some(HELP_WEATHER),
        Group::Anchor => Some(HELP_ANCHOR),
        Group::Cable => Some(HELP_CABLE),
        Group::Gear => Some(HELP_GEAR),
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
pub fn basis(basis: Basis) -> Word {
    match basis {
        Basis::Rule => BASIS_RULE,
        Basis::Catenary => BASIS_CATENARY,
        Basis::AllAboard => BASIS_ALL_ABOARD,
        Basis::Ordered => BASIS_ORDERED,
    }
}

/// Says shortly what gives.
pub fn limit(kind: LimitKind) -> Word {
    match kind {
        LimitKind::ChainLifts => LIMIT_CHAIN_LIFTS,
        LimitKind::AnchorDrags => LIMIT_ANCHOR_DRAGS,
        LimitKind::ChainLoad => LIMIT_CHAIN_LOAD,
        LimitKind::Brake => LIMIT_BRAKE,
        LimitKind::Stopper => LIMIT_STOPPER,
        LimitKind::ClassEnvelope => LIMIT_CLASS_ENVELOPE,
    }
}
