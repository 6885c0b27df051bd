//! What the watch knows at this moment, for showing; and what is changed while it goes on.

use super::plane::{Plane, Spot};
use super::slots::SLOT_MS;
use super::{Call, Kind, Setup, Watch, outside};
use crate::nmea::Quality;
use crate::position::Position;

/// A quantity with the source that it is taken from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// `position`, `heading`, `wind` or `depth`.
    pub name: &'static str,
    /// The source's number and when it was heard last; none where nothing ever was.
    pub heard: Option<(u8, i64)>,
}

/// A ship that is heard by AIS, seen from the anchor.
#[derive(Debug, Clone, PartialEq)]
pub struct Near {
    /// Metres east and north of the anchor.
    pub spot: Spot,
    /// Her name, or her number.
    pub name: String,
}

/// What is known at a moment. What is not known is `None`, and never an old value.
#[derive(Debug, Clone, PartialEq)]
pub struct Glance {
    /// Where the anchor lies; where nobody gave it, as it was guessed.
    pub anchor: Option<Position>,
    /// The place of the anchor is a guess.
    pub is_guessed: bool,
    /// The hawse, or the antenna where the hawse is not known.
    pub place: Option<Position>,
    /// The same in metres east and north of the anchor.
    pub spot: Option<Spot>,
    /// It is the hawse.
    pub is_hawse: bool,
    /// Differential correction is in use.
    pub quality: Quality,
    /// How much the satellites' geometry dilutes the position.
    pub hdop: Option<f64>,
    /// Degrees true.
    pub heading_deg: Option<f64>,
    /// From hawse, or antenna, to anchor.
    pub distance_m: Option<f64>,
    /// How far that may be: the cable's reach, the receiver's error, and the antenna's offset where the hawse is not known.
    pub allowed_m: Option<f64>,
    /// How far the cable reaches.
    pub reach_m: Option<f64>,
    /// The wind of the latest ten seconds, of ten minutes, and the strongest of the hour.
    pub wind_kn: [Option<f64>; 3],
    /// Where the wind comes from, degrees true.
    pub wind_from_deg: Option<f64>,
    /// The water at the ship.
    pub depth_m: Option<f64>,
    /// What each quantity is taken from.
    pub inputs: [Input; 4],
    /// Other ships.
    pub near: Vec<Near>,
}

impl Watch {
    /// Says what is known now.
    pub fn glance(&self) -> Glance {
        let limits = &self.setup.settings;
        let cable = self.cable();
        // A slot is news for as long as two of them.
        let slot = self.slots.kept.back();
        let slot = slot.filter(|slot| self.now_ms - slot.end_ms <= 2 * SLOT_MS);
        let spot = slot.and_then(|slot| slot.hawse.or(slot.antenna));
        let anchor = self.anchor();
        let distance = slot.zip(anchor).and_then(|(slot, (anchor, unsure))| {
            outside::distance(slot, anchor, cable.reach_m? + unsure, &self.setup)
        });
        let far = anchor.zip(spot).map(|((anchor, _), spot)| spot - anchor);
        let place = |spot: Spot| Some(self.plane.as_ref()?.place(spot));
        let minutes = || {
            self.slots
                .minutes
                .iter()
                .filter_map(|minute| minute.gust_kn)
        };
        let late = self.slots.latest(6).filter_map(|slot| slot.gust_kn);
        let inputs = self.senses.in_use();
        Glance {
            anchor: anchor.and_then(|(spot, _)| place(spot)),
            is_guessed: self.setup.anchor.is_none(),
            place: spot.and_then(place),
            spot: far,
            is_hawse: slot.is_some_and(|slot| slot.hawse.is_some()),
            quality: match slot {
                Some(slot) if slot.is_differential => Quality::Differential,
                _ => Quality::Alone,
            },
            hdop: self.senses.hdop(),
            heading_deg: self.senses.heading_deg(self.now_ms, limits),
            distance_m: distance
                .map(|distance| distance.from_anchor_m)
                .or(far.map(Spot::length)),
            allowed_m: distance.map(|distance| distance.allowed_m),
            reach_m: cable.reach_m,
            wind_kn: [
                slot.and_then(|slot| slot.wind_kn),
                self.slots.wind_kn(60),
                minutes().chain(late).reduce(f64::max),
            ],
            wind_from_deg: slot
                .and_then(|slot| slot.true_wind?.direction())
                .map(Spot::bearing_deg),
            depth_m: slot.and_then(|slot| slot.depth),
            inputs: inputs.map(|(name, of)| Input {
                name,
                heard: of.map(|(whom, last_ms)| (whom.source, last_ms)),
            }),
            near: anchor.map_or_else(Vec::new, |(anchor, _)| self.neighbours.near(anchor)),
        }
    }

    /// Goes on with what is known now. An anchor that lies elsewhere than before begins the watch anew: what she did about
    /// the old one says nothing of this one.
    pub fn change(&mut self, setup: Setup, calls: &mut Vec<Call>) {
        if self.setup.anchor == setup.anchor {
            self.setup = setup;
        } else {
            let mut fresh = Self::new(setup);
            fresh.now_ms = self.now_ms;
            fresh.judged_ms = self.judged_ms;
            fresh.slots.end_ms = self.slots.end_ms;
            fresh.senses = std::mem::take(&mut self.senses);
            fresh.blind = std::mem::take(&mut self.blind);
            fresh.alarms = std::mem::take(&mut self.alarms);
            for kind in Kind::ALL.into_iter().filter(|kind| *kind != Kind::Blind) {
                fresh.alarms.set(self.now_ms, kind, None, calls);
            }
            if let (None, Some(place)) = (fresh.plane, self.glance_place()) {
                fresh.plane = Some(Plane::at(place));
            }
            *self = fresh;
        }
    }

    fn glance_place(&self) -> Option<Position> {
        let spot = self.slots.latest_antenna()?;
        Some(self.plane.as_ref()?.place(spot))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nmea;
    use crate::watch::{Level, Place, Whom};

    fn sentence(body: &str) -> nmea::Sentence {
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        nmea::read(format!("${body}*{sum:02X}").as_bytes()).expect("a sentence in order")
    }

    fn fix(minutes: f64) -> nmea::Sentence {
        sentence(&format!(
            "GPGGA,120000.00,4330.{:04},S,02000.0000,W,1,09,0.9,5.0,M,0.0,M,,",
            (minutes * 10_000.0).round()
        ))
    }

    fn from(source: u8, order: u8) -> Whom {
        Whom {
            source,
            order: [order; 4],
            talker: *b"GP",
        }
    }

    /// A second of a source's fixes, one every second.
    fn hear(watch: &mut Watch, at_s: i64, whom: Whom, minutes: f64) {
        let heard = watch.hear_from(at_s * 1000, whom, &fix(minutes), &mut Vec::new());
        heard.expect("a fix");
    }

    #[test]
    fn a_stand_by_is_listened_to_when_the_main_source_is_silent_and_no_longer() {
        let mut watch = Watch::new(Setup::default());
        let heard = |watch: &Watch| watch.glance().inputs[0].heard.map(|(source, _)| source);
        assert_eq!(heard(&watch), None);
        for at in 0..30 {
            hear(&mut watch, at, from(1, 1), 0.5);
            hear(&mut watch, at, from(0, 0), 0.1 + 0.000_1 * at as f64);
        }
        assert_eq!(heard(&watch), Some(0));
        for at in 30..60 {
            hear(&mut watch, at, from(1, 1), 0.5 + 0.000_1 * at as f64);
        }
        assert_eq!(heard(&watch), Some(1));
        hear(&mut watch, 60, from(0, 0), 0.2);
        assert_eq!(heard(&watch), Some(0));
    }

    #[test]
    fn what_is_silent_is_not_shown_and_a_moved_anchor_begins_anew() {
        let anchor = |lat: f64| Some(Place { lat, lon: -20.0 });
        let setup = |lat: f64| Setup {
            anchor: anchor(lat),
            cable_m: Some(100.0),
            depth_m: Some(10.0),
            ..Setup::default()
        };
        let mut watch = Watch::new(setup(-43.5));
        for at in 0..180 {
            hear(&mut watch, at, from(0, 0), 0.3 + 0.000_1 * (at % 7) as f64);
        }
        let seen = watch.glance();
        // By hand: 0.3' of latitude are 555 m, and the cable reaches √(100² − 10²) = 99.5 m.
        let far = seen.distance_m.expect("a distance");
        assert!((550.0..560.0).contains(&far), "{far}");
        let reach = seen.reach_m.expect("a reach");
        assert!((reach - 99.5).abs() < 0.05, "{reach}");
        let outside = |watch: &Watch| watch.alarms().of(Kind::Outside).map(|of| of.level);
        assert_eq!(outside(&watch), Some(Level::Alarm));
        let mut calls = Vec::new();
        watch.change(setup(-43.505), &mut calls);
        assert_eq!((calls.len(), calls[0].level), (1, Level::Clear));
        assert_eq!(outside(&watch), None);
        for at in 180..220 {
            hear(&mut watch, at, from(0, 0), 0.3 + 0.000_1 * (at % 7) as f64);
        }
        assert!(watch.glance().distance_m.is_some_and(|far| far < 5.0));
        watch.pass(260_000, &mut calls);
        assert_eq!(
            (watch.glance().place, watch.glance().distance_m),
            (None, None)
        );
        let words = watch.alarms().of(Kind::Blind).map(|of| of.text.clone());
        assert!(words.is_some_and(|words| words.starts_with("no position")));
    }
}
