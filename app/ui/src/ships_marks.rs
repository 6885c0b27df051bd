//! The ship's own marks on the cable: colour by number, never colour alone.

use crate::bridge::plan::figures;
use crate::parts::CableMark;
use crate::port::Device;
use crate::words;
use journal::Ledger;
use journal::board::signed_plans;
use journal::cable::Seen;
use leptos::prelude::*;
use procedure::cable::{Paint, Side};
use procedure::{Cable, MarkAt};

/// Returns a side's cable as the master has described it; none where it is not, for nothing is counted by a cable that
/// nobody has described.
pub fn cable_of(device: Device, side: Option<Side>) -> Option<Cable> {
    device
        .records
        .ledger
        .with(|ledger| ledger.as_ref()?.settings().cables.of(side?).cloned())
}

/// Returns how much of a described cable is out at the gypsy, m. What was seen further out is longer by the way to the
/// hawse and down to the water, as the newest plan's figures have them; not a number where they are wanted and not there.
pub fn out_m(device: Device, cable: &Cable, side: Option<Side>, out: Seen) -> f64 {
    let figures = || {
        let newest = |ledger: &Option<Ledger>| signed_plans(ledger.as_ref()?).next();
        let plan = figures(&device.records.ledger.with_untracked(newest)?)?;
        let of_side = match side.unwrap_or(plan.cable.side) {
            Side::Port => plan.cable.port,
            Side::Starboard => plan.cable.starboard,
        };
        Some((of_side.deck_lead_m, plan.ship.hawse_height_m))
    };
    let beyond = match out.at {
        MarkAt::Gypsy => Some(0.0),
        MarkAt::OnDeck => None,
        MarkAt::Hawse => figures().map(|(deck_m, _)| deck_m),
        MarkAt::Water => figures().map(|(deck_m, height_m)| deck_m + height_m),
    };
    cable.metres_at(out.mark) + beyond.unwrap_or(f64::NAN)
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
