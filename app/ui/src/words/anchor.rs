//! What the pages of the anchor watch say.

use super::Word;
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/anchor.rs"));
}

/// Names how grave an alarm is.
pub const fn level(level: u8) -> Word {
    match level {
        0 | 1 => CAUTION_WORD,
        2 => WARNING_WORD,
        _ => ALARM_WORD,
    }
}

/// Names a quantity.
pub fn quantity(name: &str) -> Word {
    match name {
        "position" => INPUT_POSITION,
        "heading" => INPUT_HEADING,
        "wind" => INPUT_WIND,
        _ => INPUT_DEPTH,
    }
}
