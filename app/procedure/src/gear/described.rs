//! Cables that the ship's settings describe, as items: so ships that described them before the register was there find
//! them in it.

use super::{ItemCard, ItemSide, Room};
use crate::Decimal;
use crate::cable::{Cable, Side};
use crate::crew::Stamp;
use crate::ids::PersonId;

/// The kind that a described cable is of.
const CABLE: &str = "cable";

/// That the settings describe a cable from a moment on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Described {
    /// The record that put the settings in force.
    pub id: [u8; 32],
    /// Its stamp.
    pub stamp: Stamp,
    /// When, ms UTC.
    pub at_ms: i64,
    /// Who.
    pub by: PersonId,
    /// Whose cable.
    pub side: Side,
    /// The cable.
    pub cable: Cable,
}

/// Returns the code of the cable that the settings describe. No other item has a code in small letters.
pub(super) const fn code(side: Side) -> &'static str {
    match side {
        Side::Port => "cable-port",
        Side::Starboard => "cable-starboard",
    }
}

/// Returns whether a code is that of a cable which the settings describe.
pub fn is_code(code: &str) -> bool {
    crate::cable::BOTH
        .into_iter()
        .any(|side| self::code(side) == code)
}

/// Makes the card of a described cable that is not on the register yet.
pub(super) fn card(side: Side) -> ItemCard {
    ItemCard {
        kind: CABLE.to_owned(),
        name: format!("{} cable", crate::cable::side_word(side)),
        side: Some(ItemSide::from(side)),
        room: Room::Locker,
        certificate: String::new(),
        serial: String::new(),
        dates: Vec::new(),
        figures: Vec::new(),
        under: None,
    }
}

/// Puts what the settings say into the card.
pub(super) fn describe(card: &mut ItemCard, cable: &Cable) {
    let metres: f64 = cable
        .lengths
        .iter()
        .map(|length| length.metres.to_f64())
        .sum();
    if let Some(metres) = Decimal::from_f64(metres, 2) {
        card.set_figure("length", metres);
    }
    if let Ok(lengths) = i32::try_from(cable.lengths.len()) {
        card.set_figure("lengths", Decimal::whole(lengths));
    }
    card.set_figure("kept-inboard", cable.keep_m);
}
