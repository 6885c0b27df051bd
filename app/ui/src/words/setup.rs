//! What the page of the first hour aboard says.

use super::Word;
use journal::setup::{SetupLack, SetupPart};
use procedure::cable::side_word;
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/setup.rs"));
}

/// Names a part.
pub const fn part(part: SetupPart) -> Word {
    match part {
        SetupPart::Ship => PART_SHIP,
        SetupPart::People => PART_PEOPLE,
        SetupPart::Gear => PART_GEAR,
        SetupPart::Cables => PART_CABLES,
        SetupPart::Limits => PART_LIMITS,
        SetupPart::Ready => PART_READY,
    }
}

/// Says how a part is done.
pub const fn body(part: SetupPart) -> Word {
    match part {
        SetupPart::Ship => BODY_SHIP,
        SetupPart::People => BODY_PEOPLE,
        SetupPart::Gear => BODY_GEAR,
        SetupPart::Cables => BODY_CABLES,
        SetupPart::Limits => BODY_LIMITS,
        SetupPart::Ready => BODY_READY,
    }
}

/// Says what is still to be said.
pub fn lack(lack: &SetupLack) -> String {
    match lack {
        SetupLack::Particulars => LACKS_PARTICULARS.into(),
        SetupLack::SecondPerson => LACKS_SECOND.into(),
        SetupLack::NoPhone { who } => lacks_phone(who),
        SetupLack::NoItem { kind } => lacks_item(kind),
        SetupLack::NoCable { side } => lacks_cable(side_word(*side)),
        SetupLack::Limits { group, open } => {
            lacks_limits(*open, &super::ship::group(*group).to_string())
        }
        SetupLack::NotReady => LACKS_READY.into(),
    }
}
