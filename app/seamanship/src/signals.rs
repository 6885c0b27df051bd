//! Lights, shapes and sound of a vessel at anchor, by her length.

use std::borrow::Cow;

use serde::{Deserialize, Serialize};

use crate::error::{OutOfRange, within};
use crate::units::{Metres, Minutes};

/// What the signals come from, as shown beside them.
pub const SOURCE: &str = "COLREG 1972, rules 22, 30 and 35; heights of Annex I, from memory";

/// What a person must know before relying on the list.
pub const CAUTION: &str = "From when she is brought up until the anchor is aweigh. Local rules \
    may ask for more; in restricted visibility lights are shown by day too.";

/// What a vessel at anchor shows and sounds.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Signals {
    /// How many all-round white lights: 2 from 50 m, the after one lower.
    pub lights: u8,
    /// Range of the lights in nautical miles.
    pub light_range_nm: u8,
    /// Whether deck lights are obligatory: from 100 m.
    pub deck_lights_obligatory: bool,
    /// By day.
    pub shape: Cow<'static, str>,
    /// In restricted visibility.
    pub sound: Cow<'static, str>,
    /// Longest time between two soundings of the bell.
    pub bell_interval: Minutes,
    /// Whether a gong aft follows the bell: from 100 m.
    pub gong: bool,
}

/// Returns what a vessel of this length shows and sounds at anchor.
///
/// # Source
/// COLREG rules 22, 30 and 35.
///
/// # Errors
/// [`OutOfRange`] unless the length is from 1 to 500 m.
pub fn at_anchor(length_overall: Metres) -> Result<Signals, OutOfRange> {
    let length = within("length_overall_m", length_overall.0, 1.0, 500.0)?;
    let long = length >= 50.0;
    let sound = if length >= 100.0 {
        "bell forward 5 s rapidly, then gong aft 5 s, at most 1 minute apart; may add one short, \
         one prolonged, one short blast"
    } else if length >= 20.0 {
        "bell 5 s rapidly, at most 1 minute apart; may add one short, one prolonged, one short \
         blast"
    } else if length >= 12.0 {
        "bell, or another efficient sound at most 2 minutes apart"
    } else {
        "some efficient sound, at most 2 minutes apart"
    };
    Ok(Signals {
        lights: if long { 2 } else { 1 },
        light_range_nm: if long { 3 } else { 2 },
        deck_lights_obligatory: length >= 100.0,
        shape: Cow::Borrowed("one ball forward"),
        sound: Cow::Borrowed(sound),
        bell_interval: Minutes(if length >= 20.0 { 1.0 } else { 2.0 }),
        gong: length >= 100.0,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signals_change_at_the_lengths_of_the_rules() {
        for (length, lights, range, deck) in [
            (49.9, 1, 2, false),
            (50.0, 2, 3, false),
            (99.9, 2, 3, false),
            (100.0, 2, 3, true),
        ] {
            let got = at_anchor(Metres(length)).unwrap();
            assert_eq!(
                (got.lights, got.light_range_nm, got.deck_lights_obligatory),
                (lights, range, deck),
                "{length}"
            );
            assert_eq!(got.gong, deck, "{length}");
            assert!((got.bell_interval.0 - 1.0).abs() < 1e-12);
        }
        assert!(at_anchor(Metres(f64::NAN)).is_err());
    }
}
