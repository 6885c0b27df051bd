//! Other ships by AIS, and whether one comes too near.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use super::Setup;
use super::alarm::{Level, Standing};
use super::glance::Near;
use super::plane::{Plane, Spot};
use super::senses::ms;
use crate::nmea::ais::Report;

/// The most ships that are kept; the one not heard for longest makes room.
const MOST_SHIPS: usize = 64;
/// The most spots of one ship's track.
const MOST_SPOTS: usize = 24;
/// A ship that is not heard for so long is gone.
const GONE_MS: i64 = 15 * 60_000;
/// How long a track is looked at.
const TRACK_MS: i64 = 10 * 60_000;
/// What moves slower may as well swing.
/// Source: our own, common practice, no source.
const SLOW_KN: f64 = 1.5;
/// What moves faster is under way.
/// Source: our own, common practice, no source.
const FAST_KN: f64 = 3.0;

/// A ship that is heard.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Ship {
    mmsi: u32,
    name: Option<String>,
    length_m: Option<f64>,
    track: VecDeque<(i64, Spot)>,
    latest: (i64, Spot),
    velocity: Option<Spot>,
    /// Reports in a row that had her on the way to us.
    in_a_row: u8,
    level: Option<Level>,
    quiet_since_ms: Option<i64>,
    /// First heard within a ship's length, as our own echo and our own boats are.
    is_alongside: bool,
}

/// The ships around.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct Neighbours {
    own_mmsi: Option<u32>,
    ships: Vec<Ship>,
    text: String,
    raised: Option<(u32, Level)>,
}

/// Metres a second in a knot.
/// Source: the international nautical mile, by definition.
const KNOT: f64 = 1852.0 / 3600.0;

impl Neighbours {
    /// Takes a report that came at `now_ms`.
    pub(super) fn hear(
        &mut self,
        now_ms: i64,
        report: &Report,
        plane: &Plane,
        own: Option<Spot>,
        setup: &Setup,
    ) {
        if report.is_own {
            self.own_mmsi = Some(report.mmsi);
            self.ships.retain(|ship| ship.mmsi != report.mmsi);
        }
        if self.own_mmsi == Some(report.mmsi) {
            return;
        }
        let known = self.ships.iter().position(|ship| ship.mmsi == report.mmsi);
        let Some(told) = report.told else {
            if let Some(at) = known {
                self.ships[at].named(report);
            }
            return;
        };
        let spot = plane.spot(told.place);
        let at = known.unwrap_or_else(|| {
            if self.ships.len() >= MOST_SHIPS {
                let oldest = (0..self.ships.len()).min_by_key(|at| self.ships[*at].latest.0);
                self.ships.swap_remove(oldest.unwrap_or(0));
            }
            let near = setup.length_m.unwrap_or(50.0).max(30.0);
            self.ships.push(Ship {
                mmsi: report.mmsi,
                name: None,
                length_m: None,
                track: VecDeque::new(),
                latest: (now_ms, spot),
                velocity: None,
                in_a_row: 0,
                level: None,
                quiet_since_ms: None,
                is_alongside: own.is_some_and(|own| (spot - own).length() < near),
            });
            self.ships.len() - 1
        });
        let ship = &mut self.ships[at];
        ship.named(report);
        ship.latest = (now_ms, spot);
        ship.velocity = match (told.speed_kn, told.course_deg) {
            (Some(speed), Some(course)) => Some(Spot::toward(course) * (speed * KNOT)),
            (Some(speed), None) if speed < 0.1 => Some(Spot::default()),
            _ => None,
        };
        if ship
            .track
            .back()
            .is_none_or(|(at, _)| now_ms - at >= 30_000)
        {
            if ship.track.len() >= MOST_SPOTS {
                ship.track.pop_front();
            }
            ship.track.push_back((now_ms, spot));
        }
        while ship
            .track
            .front()
            .is_some_and(|(at, _)| now_ms - at > TRACK_MS)
        {
            ship.track.pop_front();
        }
        if let Some(own) = own {
            ship.judge(now_ms, own, setup);
        }
    }

    /// Lists the ships as they are seen from a spot.
    pub(super) fn near(&self, from: Spot) -> Vec<Near> {
        let near = self.ships.iter().map(|ship| Near {
            spot: ship.latest.1 - from,
            name: ship.name.clone().unwrap_or_else(|| ship.mmsi.to_string()),
        });
        near.collect()
    }

    /// Says how things stand at the end of a slot.
    pub(super) fn judge(&mut self, now_ms: i64, own: Option<Spot>) -> Option<Standing> {
        self.ships.retain(|ship| now_ms - ship.latest.0 < GONE_MS);
        let worst = self.ships.iter().filter(|ship| ship.level.is_some());
        let worst = worst.max_by_key(|ship| (ship.level, std::cmp::Reverse(ship.mmsi)));
        let raised = worst.and_then(|ship| Some((ship.mmsi, ship.level?)));
        if raised != self.raised {
            self.raised = raised;
            self.text = worst.map_or_else(String::new, |ship| ship.words(own));
        }
        let (mmsi, level) = raised?;
        Some(Standing {
            level,
            // Another ship is another cause.
            cause: u16::try_from(mmsi % 65_536).unwrap_or(0),
            text: self.text.clone(),
        })
    }
}

impl Ship {
    fn named(&mut self, report: &Report) {
        self.name = report.name.clone().or_else(|| self.name.take());
        self.length_m = report.length_m.or(self.length_m);
    }

    /// How she moves: by her own word when she is fast, else by her track, which a swing bends.
    fn moving(&self, setup: &Setup, own: Spot) -> Option<Spot> {
        let told = self
            .velocity
            .filter(|velocity| velocity.length() >= SLOW_KN * KNOT);
        if told.is_some() {
            return told;
        }
        let (from_ms, from) = *self.track.front()?;
        let (to_ms, to) = self.latest;
        if to_ms - from_ms < 170_000 {
            return None;
        }
        let closed = (from - own).length() - (to - own).length();
        let is_closing = closed >= setup.settings.neighbour_closing_m;
        is_closing.then(|| (to - from) * (1000.0 / (to_ms - from_ms) as f64))
    }

    fn judge(&mut self, now_ms: i64, own: Spot, setup: &Setup) {
        let limits = &setup.settings;
        let way = self.latest.1 - own;
        let distance = way.length();
        if self.is_alongside {
            self.is_alongside = distance < 100.0 + setup.length_m.unwrap_or(50.0);
            return;
        }
        let level = self.moving(setup, own).and_then(|velocity| {
            let speed = velocity.length();
            let is_closing = way.along(velocity) < 0.0;
            if speed < 0.05 || !is_closing {
                return None;
            }
            let until_s = -way.along(velocity) / (speed * speed);
            let nearest = (way + velocity * until_s).length();
            let within_s = if speed > FAST_KN * KNOT {
                limits.neighbour_fast_s
            } else {
                limits.neighbour_s
            };
            let close = limits.neighbour_close_m.max(setup.length_m.unwrap_or(0.0));
            if nearest <= close && until_s <= limits.neighbour_close_s {
                Some(Level::Alarm)
            } else if nearest <= limits.neighbour_near_m && until_s <= within_s {
                Some(Level::Warning)
            } else {
                None
            }
        });
        if let Some(level) = level {
            self.in_a_row = self.in_a_row.saturating_add(1);
            self.quiet_since_ms = None;
            // One report may be a slip.
            if self.in_a_row >= 2 {
                self.level = self.level.max(Some(level));
            }
        } else {
            self.in_a_row = 0;
            let since_ms = *self.quiet_since_ms.get_or_insert(now_ms);
            if now_ms - since_ms >= ms(limits.inside_clear_s) {
                self.level = None;
            }
        }
    }

    fn words(&self, own: Option<Spot>) -> String {
        let who = match &self.name {
            Some(name) => format!("{name} ({})", self.mmsi),
            None => format!("the ship {}", self.mmsi),
        };
        let Some(own) = own else {
            return format!("{who} closes");
        };
        let way = self.latest.1 - own;
        let speed = self.velocity.map_or_else(String::new, |velocity| {
            format!(" at {:.1} kn", velocity.length() / KNOT)
        });
        format!(
            "{who} closes{speed}: {:.0} m away, bearing {:03.0}°",
            way.length(),
            way.bearing_deg()
        )
    }
}
