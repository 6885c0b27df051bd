//! Shackle marks: from the paint at the gypsy to the length out, and back.
//!
//! Lengths differ from piece to piece and colours from ship to ship, so both are the ship's own.

mod scheme;

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, at_least_zero, within};
use crate::units::Metres;

pub use scheme::{Paint, Scheme};

/// Length of a shackle of 15 fathoms: 27.432 m.
/// Source: the fathom is 1.8288 m by definition; that a shackle is 15 of them is common practice, no source.
pub const SHACKLE_15_FATHOMS: Metres = Metres(27.432);
/// Length of a shackle in class rules and of new chain: IACS Rec. 10.
/// Source: IACS, Recommendation 10, Rev.5, table 1, whose lengths are multiples of it; read in excerpt.
pub const SHACKLE_METRIC: Metres = Metres(27.5);

/// The lengths of one cable from the anchor to the bitter end.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Pieces {
    lengths_m: Vec<f64>,
}

/// Where a length lies among the marks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// The last joint that has passed; 0 before the first.
    pub mark: usize,
    /// Metres beyond it.
    pub beyond: Metres,
}

/// How near the end of the cable is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum NearEnd {
    /// Far enough.
    Far,
    /// In the last length but one: warn.
    LastButOne,
    /// In the last length: slow.
    Last,
    /// In the last half of it: not without the officer's consent.
    LastHalf,
}

impl Pieces {
    /// Makes a cable out of its lengths, anchor end first.
    ///
    /// # Errors
    /// [`OutOfRange`] unless there are 1 to 40 of them, each of 1 to 60 m.
    pub fn new(lengths: &[Metres]) -> Result<Self, OutOfRange> {
        if lengths.is_empty() || lengths.len() > 40 {
            return Err(OutOfRange::outside(
                "shackles",
                lengths.len() as f64,
                "from 1 to 40 lengths",
            ));
        }
        let lengths_m = lengths
            .iter()
            .map(|length| within("shackle_length_m", length.0, 1.0, 60.0))
            .collect::<Result<Vec<_>, _>>()?;
        Ok(Self { lengths_m })
    }

    /// Returns how many lengths there are.
    pub fn count(&self) -> usize {
        self.lengths_m.len()
    }

    /// Returns the whole length.
    pub fn total(&self) -> Metres {
        Metres(self.lengths_m.iter().sum())
    }

    /// Returns the length from the anchor to the n-th joint.
    ///
    /// # Errors
    /// [`OutOfRange`] beyond the last joint.
    pub fn length_to(&self, mark: usize) -> Result<Metres, OutOfRange> {
        if mark > self.count() {
            return Err(OutOfRange::outside(
                "mark",
                mark as f64,
                format!("at most {}, the lengths aboard", self.count()),
            ));
        }
        Ok(Metres(self.lengths_m[..mark].iter().sum()))
    }

    /// Returns between which marks a length lies.
    ///
    /// # Errors
    /// [`OutOfRange`] if it is negative or more than there is.
    pub fn mark_at(&self, length: Metres) -> Result<Reading, OutOfRange> {
        let wanted = within("length_m", length.0, 0.0, self.total().0)?;
        let mut passed = 0.0;
        let mut mark = 0;
        for piece in &self.lengths_m {
            if passed + piece > wanted {
                break;
            }
            passed += piece;
            mark += 1;
        }
        Ok(Reading {
            mark,
            beyond: Metres(wanted - passed),
        })
    }

    /// Returns how near the end a length at the gypsy is.
    ///
    /// # Source
    /// Warning in the last length but one and a hold in the last half: common practice, no source.
    ///
    /// # Errors
    /// As [`mark_at`](Self::mark_at).
    pub fn nearness(&self, at_gypsy: Metres) -> Result<NearEnd, OutOfRange> {
        let left = self.total().0 - within("length_m", at_gypsy.0, 0.0, self.total().0)?;
        let last = self.lengths_m[self.count() - 1];
        let but_one = self
            .count()
            .checked_sub(2)
            .map_or(0.0, |i| self.lengths_m[i]);
        Ok(if left <= last / 2.0 {
            NearEnd::LastHalf
        } else if left <= last {
            NearEnd::Last
        } else if left <= last + but_one {
            NearEnd::LastButOne
        } else {
            NearEnd::Far
        })
    }
}

/// The same cable counted from different places.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Out {
    /// Outside the gypsy.
    pub at_gypsy: Metres,
    /// Outside the hawse: what the catenary and the rules count.
    pub at_hawse: Metres,
    /// In the water, with the chain up and down.
    pub in_water: Metres,
}

/// Returns what lies outside the hawse and in the water for a mark at the gypsy.
///
/// `L = L_g − l_d`, `L_w = L − h_h`; neither below 0.
///
/// # Validity
/// In the water: chain hanging plumb. Leading out, more of it is in the air.
///
/// # Errors
/// [`OutOfRange`] unless all are 0 or more.
pub fn out_from_gypsy(
    at_gypsy: Metres,
    deck_lead: Metres,
    hawse_height: Metres,
) -> Result<Out, OutOfRange> {
    let gypsy = at_least_zero("at_gypsy_m", at_gypsy.0)?;
    let lead = at_least_zero("deck_lead_m", deck_lead.0)?;
    let height = at_least_zero("hawse_height_m", hawse_height.0)?;
    let hawse = (gypsy - lead).max(0.0);
    Ok(Out {
        at_gypsy: Metres(gypsy),
        at_hawse: Metres(hawse),
        in_water: Metres((hawse - height).max(0.0)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn even(count: usize, length: Metres) -> Pieces {
        Pieces::new(&vec![length; count]).unwrap()
    }

    #[test]
    fn shackles_are_as_long_as_the_handbooks_say() {
        let three = even(3, SHACKLE_15_FATHOMS).total().0;
        assert!((three - 82.296).abs() < 1e-9, "{three}");
        assert!((even(9, SHACKLE_METRIC).total().0 - 247.5).abs() < 1e-9);
        assert!((even(9, SHACKLE_15_FATHOMS).total().0 - 246.888).abs() < 1e-9);
        let fathoms = 15.0 * crate::units::METRES_PER_FATHOM;
        assert!((fathoms - SHACKLE_15_FATHOMS.0).abs() < 1e-12);
    }

    #[test]
    fn a_mark_goes_to_its_length_and_back() {
        let lengths = [27.5, 27.432, 25.0, 27.5].map(Metres);
        let pieces = Pieces::new(&lengths).unwrap();
        for mark in 0..=4 {
            let reading = pieces.mark_at(pieces.length_to(mark).unwrap()).unwrap();
            assert_eq!(reading.mark, mark);
            assert!(reading.beyond.0.abs() < 1e-9);
        }
        let between = pieces.mark_at(Metres(60.0)).unwrap();
        assert_eq!(between.mark, 2);
        assert!((between.beyond.0 - 5.068).abs() < 1e-9);
        assert!(pieces.length_to(5).is_err());
        assert!(pieces.mark_at(Metres(108.0)).is_err());
        assert!(pieces.mark_at(Metres(f64::NAN)).is_err());
    }

    #[test]
    fn the_end_is_announced_before_it_comes() {
        let six = even(6, SHACKLE_METRIC);
        for (shackles, near) in [
            (3.9, NearEnd::Far),
            (4.0, NearEnd::LastButOne),
            (5.0, NearEnd::Last),
            (5.5, NearEnd::LastHalf),
            (6.0, NearEnd::LastHalf),
        ] {
            let got = six.nearness(Metres(shackles * 27.5)).unwrap();
            assert_eq!(got, near, "{shackles}");
        }
    }

    #[test]
    fn on_deck_at_the_hawse_and_in_the_water_are_three_lengths() {
        let out = out_from_gypsy(Metres(110.0), Metres(4.5), Metres(3.8)).unwrap();
        assert!((out.at_hawse.0 - 105.5).abs() < 1e-12);
        assert!((out.in_water.0 - 101.7).abs() < 1e-12);
        let home = out_from_gypsy(Metres(2.0), Metres(4.5), Metres(3.8)).unwrap();
        assert_eq!(home.at_hawse, Metres(0.0));
    }
}
