//! What the pages of the ship's gear say.

use super::Word;
use journal::gear::LineWhat;
use procedure::gear::{DateKind, ItemSide, Room, Service};
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/gear.rs"));
}

/// Names a place.
pub const fn room(room: Room) -> Word {
    match room {
        Room::Deck => PLACE_DECK,
        Room::Locker => PLACE_LOCKER,
        Room::Bridge => PLACE_BRIDGE,
        Room::Store => PLACE_STORE,
    }
}

/// Names a side.
pub const fn side(side: ItemSide) -> Word {
    match side {
        ItemSide::Port => SIDE_PORT,
        ItemSide::Starboard => SIDE_STARBOARD,
        ItemSide::CentreLine => SIDE_CENTRE,
    }
}

/// Names a date.
pub const fn date(date: DateKind) -> Word {
    match date {
        DateKind::Made => DATE_MADE,
        DateKind::Fitted => DATE_FITTED,
        DateKind::TestedUntil => DATE_TESTED,
        DateKind::CalibratedUntil => DATE_CALIBRATED,
        DateKind::RenewBy => DATE_RENEW,
    }
}

/// Says how far an item may be used.
pub const fn service(service: &Service) -> Word {
    match service {
        Service::In => IN_SERVICE,
        Service::Restricted(_) => RESTRICTED,
        Service::Out(_) => OUT_OF_SERVICE,
        Service::Off => TAKEN_OFF,
    }
}

/// Says a line of an item's history.
pub fn line(what: &LineWhat) -> String {
    match what {
        LineWhat::PutOn => LINE_PUT_ON.into(),
        LineWhat::Changed => LINE_CHANGED.into(),
        LineWhat::Described => LINE_DESCRIBED.into(),
        LineWhat::Restricted(how) => line_restricted(how),
        LineWhat::NotMasters(how) => line_not_masters(how),
        LineWhat::OutOfService => LINE_OUT.into(),
        LineWhat::PutBack => LINE_BACK.into(),
        LineWhat::TakenOff => LINE_OFF.into(),
        LineWhat::Clash(name) => line_clash(name),
    }
}
