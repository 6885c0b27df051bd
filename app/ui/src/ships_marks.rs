//! The ship's own marks on the cable: colour by number, never colour alone.

use crate::parts::CableMark;
use crate::port::Device;
use crate::words;
use leptos::prelude::*;
use procedure::Cable;
use procedure::cable::{Paint, Side};

/// Returns a side's cable as the master has described it; none where it is not, for nothing is counted by a cable that
/// nobody has described.
pub fn cable_of(device: Device, side: Option<Side>) -> Option<Cable> {
    device
        .records
        .ledger
        .with(|ledger| ledger.as_ref()?.settings().cables.of(side?).cloned())
}

/// Returns the marks of a cable.
pub fn marks(cable: &Cable) -> Vec<CableMark> {
    (1..=cable.joints())
        .map(|number| {
            #[expect(clippy::cast_precision_loss, reason = "at most forty")]
            let mark = number as f64;
            CableMark {
                at_m: cable.metres_at(mark),
                label: number.to_string(),
                paints: cable.paints_of(number).to_vec(),
            }
        })
        .collect()
}

/// Says the paints of a mark: 'white and red'; nothing where it is not painted.
pub fn said_paints(cable: &Cable, number: i64) -> String {
    let paints = usize::try_from(number).map_or(&[][..], |number| cable.paints_of(number));
    let names: Vec<&str> = paints.iter().map(|paint: &Paint| paint.name()).collect();
    names.join(&words::AND)
}

/// Says a mark by number and paint: 'Mark 3, red'.
pub fn said_mark(cable: &Cable, number: i64) -> String {
    let paints = said_paints(cable, number);
    if paints.is_empty() {
        words::mark_named(&number.to_string())
    } else {
        words::mark_painted(&number.to_string(), &paints)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_is_said_by_number_and_by_the_ships_own_paint() {
        let cable = Cable::parse("27.5 red\n27 white blue\n27.5\n27.5", "27.5").unwrap();
        assert_eq!(said_mark(&cable, 1), "Mark 1, red");
        assert_eq!(said_mark(&cable, 2), "Mark 2, white and blue");
        assert_eq!(said_mark(&cable, 3), "Mark 3");
        let marks = marks(&cable);
        assert_eq!(marks.len(), 3, "the last length ends at the bitter end");
        assert!((marks[1].at_m - 54.5).abs() < 1e-9);
    }
}
