//! The anchor watch: sentences in, alarms out, the same each time for the same sentences.
//!
//! Pure: time is an argument, and what is known lies in one value that can be stored and taken up again. Whatever
//! comes in, that value stays small. Every number that it judges by is a setting with its source ([`Limits`]).
//!
//! An aid beside approved receivers, radar and lookout. A position by satellite can be wrong for everyone at once: bearings of
//! fixed marks stay part of the watch.

mod alarm;
mod blind;
mod glance;
mod limits;
mod moves;
mod neighbour;
mod outside;
pub(crate) mod plane;
mod recover;
mod replay;
mod senses;
mod setup;
mod shoal;
mod slots;
mod wind;

use serde::{Deserialize, Serialize};

use crate::nmea::ais::Assembly;
use crate::nmea::{Quality, Refused, Said, Sentence, WindFrom};
use crate::position::Position;
use plane::{Plane, mean};
use slots::{SLOT_MS, put};

pub use alarm::{Alarms, Call, Kind, Level, Standing};
pub use glance::{Glance, Input, Near};
pub use limits::{Limits, Number, Sureness};
pub use plane::Spot;
pub use replay::{End, Replay};
pub use senses::Whom;
pub use setup::{Antenna, BadSetup, Place, Setup, WindLimits};

/// What a person must know before relying on the watch.
pub const CAUTION: &str = "An aid beside approved receivers, radar and lookout. Satellite positions \
    can be wrong for everyone at once: take bearings of fixed marks.";

/// After so long without any sentence nothing changes any more, and time is passed at once.
const NOTHING_CHANGES_MS: i64 = 2 * 3_600_000;
/// Minutes before an anchor that nobody gave is guessed.
const GUESS_MINUTES: usize = 10;

/// The watch over one anchor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Watch {
    setup: Setup,
    now_ms: i64,
    /// What is due up to this moment has been judged.
    judged_ms: i64,
    senses: senses::Senses,
    assembly: Assembly,
    plane: Option<Plane>,
    /// The anchor as it was guessed, with how far that may be wrong.
    guessed: Option<(Spot, f64)>,
    slots: slots::Slots,
    blind: blind::Blind,
    outside: outside::Outside,
    moves: moves::Moves,
    recover: recover::Recover,
    shoal: shoal::Shoal,
    wind: wind::Wind,
    neighbours: neighbour::Neighbours,
    alarms: Alarms,
}

impl Watch {
    /// Begins a watch. Its time begins with the first sentence or moment.
    pub fn new(setup: Setup) -> Self {
        Self {
            plane: setup.anchor_place().map(Plane::at),
            setup,
            now_ms: 0,
            judged_ms: 0,
            senses: senses::Senses::default(),
            assembly: Assembly::default(),
            guessed: None,
            slots: slots::Slots::default(),
            blind: blind::Blind::default(),
            outside: outside::Outside::default(),
            moves: moves::Moves::default(),
            recover: recover::Recover::default(),
            shoal: shoal::Shoal::default(),
            wind: wind::Wind::default(),
            neighbours: neighbour::Neighbours::default(),
            alarms: Alarms::default(),
        }
    }

    /// How things stand with every kind of alarm.
    pub fn alarms(&self) -> &Alarms {
        &self.alarms
    }

    /// What is known of the ship and her anchor.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Lets time pass to a moment, and judges what has become true by silence before it. A moment before the one
    /// reached already changes nothing.
    pub fn pass(&mut self, to_ms: i64, calls: &mut Vec<Call>) {
        if self.senses.begun_ms.is_none() {
            self.senses.begun_ms = Some(to_ms);
            self.now_ms = to_ms;
            self.judged_ms = to_ms - 1;
            self.slots.end_ms = to_ms.saturating_add(SLOT_MS);
        }
        let heard_ms = self.now_ms;
        while let Some(due_ms) = self.due_ms().filter(|due| *due < to_ms) {
            self.now_ms = due_ms;
            self.judged_ms = due_ms;
            if due_ms >= self.slots.end_ms {
                self.close_slot(calls);
            }
            self.see(calls);
            if self.now_ms - heard_ms > NOTHING_CHANGES_MS {
                let slots = to_ms.saturating_sub(self.slots.end_ms) / SLOT_MS;
                self.slots.end_ms += slots.max(0) * SLOT_MS;
            }
        }
        self.now_ms = self.now_ms.max(to_ms);
        // What else comes at this very moment may still break a silence.
        self.judged_ms = self.judged_ms.max(to_ms - 1);
    }

    /// The next moment at which something is to be judged.
    fn due_ms(&self) -> Option<i64> {
        let silent = self
            .senses
            .deadlines(&self.setup)
            .into_iter()
            .map(|(at, _)| at);
        let all = silent.chain(self.blind.due_ms(&self.setup.settings));
        let all = all.chain(std::iter::once(self.slots.end_ms));
        all.filter(|at| *at > self.judged_ms).min()
    }

    /// Takes a sentence at a moment.
    ///
    /// # Errors
    /// [`Refused`] for an AIS message that cannot be right, of which nothing is believed.
    pub fn hear(
        &mut self,
        at_ms: i64,
        sentence: &Sentence,
        calls: &mut Vec<Call>,
    ) -> Result<(), Refused> {
        self.hear_from(at_ms, Whom::alone(sentence.talker), sentence, calls)
    }

    /// Takes a sentence of one of several sources at a moment.
    ///
    /// # Errors
    /// As [`Watch::hear`].
    pub fn hear_from(
        &mut self,
        at_ms: i64,
        whom: Whom,
        sentence: &Sentence,
        calls: &mut Vec<Call>,
    ) -> Result<(), Refused> {
        self.pass(at_ms, calls);
        let now_ms = self.now_ms;
        match &sentence.said {
            Said::Fix(fix) => self.take_fix(now_ms, whom, fix),
            Said::Least {
                fix, variation_deg, ..
            } => {
                self.senses.variation(*variation_deg);
                self.take_fix(now_ms, whom, fix);
            }
            Said::Heading {
                heading_deg: Some(heading_deg),
                north,
            } => {
                self.senses.heading(now_ms, whom, *heading_deg, *north);
                if let Some(heading_deg) = self.senses.heading_deg(now_ms, &self.setup.settings) {
                    put(&mut self.slots.filling.heading, Spot::toward(heading_deg));
                }
            }
            Said::Wind {
                angle_deg,
                from,
                speed_kn,
            } => {
                // An instrument that is not valid is as one that is silent.
                if speed_kn.is_some() && self.senses.wind(now_ms, whom, *from) {
                    self.take_wind(*angle_deg, *from, *speed_kn);
                }
            }
            Said::Depth {
                depth_m: Some(depth_m),
                from,
            } => {
                if self.senses.depth(now_ms, whom, *from)
                    && let Some(water_m) = self.shoal.water_m(*depth_m, *from, &self.setup)
                {
                    put(&mut self.slots.filling.depth, water_m);
                }
            }
            Said::Datum { is_wgs84, name } => self.senses.datum(whom, *is_wgs84, name),
            Said::Ais(part) => {
                if let Some(report) = self.assembly.take(now_ms, part)? {
                    if let (Some(plane), None) =
                        (report.told.map(|told| Plane::at(told.place)), self.plane)
                    {
                        self.plane = Some(plane);
                    }
                    if let Some(plane) = &self.plane {
                        let own = self.slots.latest_antenna();
                        self.neighbours
                            .hear(now_ms, &report, plane, own, &self.setup);
                    }
                }
            }
            // Instruments that say that they are not valid are as good as silent.
            Said::Heading { .. }
            | Said::Depth { .. }
            | Said::Motion(_)
            | Said::Turn(_)
            | Said::Unused => {}
        }
        self.see(calls);
        Ok(())
    }

    fn take_fix(&mut self, now_ms: i64, whom: Whom, fix: &crate::nmea::Fix) {
        let believed = self.senses.fix(now_ms, whom, fix, &self.setup.settings);
        let Some((place, quality)) = believed else {
            return;
        };
        let antenna = self
            .plane
            .get_or_insert_with(|| Plane::at(place))
            .spot(place);
        put(&mut self.slots.filling.antenna, antenna);
        self.slots.filling.is_differential = quality == Quality::Differential;
        if let Some(hawse) = self.hawse(now_ms, antenna) {
            put(&mut self.slots.filling.hawse, hawse);
        }
    }

    /// The hawse of a ship whose antenna is at a spot; none where her heading or the antenna's stand is not known.
    fn hawse(&self, now_ms: i64, antenna: Spot) -> Option<Spot> {
        let offset = self.setup.antenna?;
        if self.blind.lost() & senses::cause::REVERSED != 0 {
            return None;
        }
        let heading_deg = self.senses.heading_deg(now_ms, &self.setup.settings)?;
        let ahead = Spot::toward(heading_deg);
        let abeam = Spot::toward(heading_deg + 90.0);
        Some(antenna - ahead * offset.forward_m - abeam * offset.starboard_m)
    }

    fn take_wind(&mut self, angle_deg: Option<f64>, from: WindFrom, speed_kn: Option<f64>) {
        let heading_deg = self.senses.heading_deg(self.now_ms, &self.setup.settings);
        let (bow, north) = match (angle_deg, from) {
            (Some(angle), WindFrom::North) => {
                (heading_deg.map(|heading| angle - heading), Some(angle))
            }
            (Some(angle), _) => (Some(angle), heading_deg.map(|heading| heading + angle)),
            (None, _) => (None, None),
        };
        let filling = &mut self.slots.filling;
        if let Some(speed_kn) = speed_kn {
            put(&mut filling.wind_kn, speed_kn);
        }
        if let Some(angle) = bow {
            put(&mut filling.bow_wind, Spot::toward(angle));
        }
        if let Some(angle) = north {
            put(&mut filling.true_wind, Spot::toward(angle));
        }
    }

    /// Says what the watch cannot see.
    fn see(&mut self, calls: &mut Vec<Call>) {
        let lost = self.senses.lost(self.judged_ms, &self.setup);
        let standing = self
            .blind
            .judge(self.now_ms, lost, &self.senses, &self.setup.settings);
        self.alarms.set(self.now_ms, Kind::Blind, standing, calls);
    }

    fn anchor(&self) -> Option<(Spot, f64)> {
        let given = self.setup.anchor_place().zip(self.plane.as_ref());
        given
            .map(|(place, plane)| (plane.spot(place), 0.0))
            .or(self.guessed)
    }

    /// The hawse above the bottom with the water as it stands now, where a sounder agrees with the setup.
    fn height_m(&self) -> Option<f64> {
        let depth = self.setup.depth_m?;
        let sounded = self.slots.minutes.back().and_then(|minute| minute.depth);
        let depth = sounded
            .filter(|now| (now / depth - 1.0).abs() < 0.5)
            .unwrap_or(depth);
        Some(depth + self.setup.hawse_height_m.unwrap_or(0.0))
    }

    fn cable(&self) -> moves::Cable {
        let height_m = self.height_m();
        moves::Cable {
            anchor: self.anchor().map(|(spot, _)| spot),
            length_m: self.setup.cable_m,
            height_m,
            reach_m: self.setup.reach_m(height_m),
        }
    }

    /// Judges the ten seconds, and the minute, that end now.
    fn close_slot(&mut self, calls: &mut Vec<Call>) {
        let is_minute = self.slots.close();
        let now_ms = self.now_ms;
        if is_minute {
            self.guess_anchor();
            let anchor = self.anchor().map(|(spot, _)| spot);
            let since_ms = self.senses.heading_same_since_ms();
            let reach_m = self.setup.reach_m(self.height_m());
            self.blind.look_at_heading(
                now_ms,
                &self.slots.minutes,
                anchor,
                reach_m,
                since_ms,
                &self.setup,
            );
        }
        let cable = self.cable();
        let limits = &self.setup.settings;
        let distance =
            self.slots
                .kept
                .back()
                .zip(self.anchor())
                .and_then(|(slot, (anchor, unsure))| {
                    outside::distance(slot, anchor, cable.reach_m? + unsure, &self.setup)
                });
        let is_swinging = self.is_swinging();
        let mut outside = self.outside.judge(now_ms, distance, limits);
        let mut moves = if is_minute {
            self.moves.judge(&self.slots.minutes, &cable, limits)
        } else {
            self.moves.standing()
        };
        let anchor = cable.anchor.map(|anchor| (anchor, cable.reach_m));
        let mut recover = self.recover.judge(now_ms, &self.slots, anchor, limits);
        let shoal = self
            .shoal
            .judge(now_ms, &self.slots, is_swinging, &self.setup);
        judge_together(
            [&mut outside, &mut moves, &mut recover],
            self.shoal.is_shoaling,
        );
        let wind = self.wind.judge(now_ms, &self.slots, &self.setup);
        let neighbour = self.neighbours.judge(now_ms, self.slots.latest_antenna());
        for (kind, standing) in [
            (Kind::Outside, outside),
            (Kind::AnchorMoves, moves),
            (Kind::NotRecovering, recover),
            (Kind::Shoal, shoal),
            (Kind::Wind, wind),
            (Kind::Neighbour, neighbour),
        ] {
            self.alarms.set(now_ms, kind, standing, calls);
        }
    }

    /// Whether her head has turned within the last quarter of an hour.
    fn is_swinging(&self) -> bool {
        let late = || self.slots.minutes.iter().rev().take(15);
        let of = |some: Vec<Spot>| mean(some).and_then(Spot::direction);
        let now = of(late().take(5).filter_map(|minute| minute.heading).collect());
        let before = of(late()
            .skip(10)
            .filter_map(|minute| minute.heading)
            .collect());
        now.zip(before)
            .is_none_or(|(now, before)| now.angle_to(before) > 30.0)
    }

    /// Guesses the anchor that nobody gave: ahead of the ship, at the middle of what the cable can reach.
    fn guess_anchor(&mut self) {
        if self.setup.anchor.is_some() || self.guessed.is_some() {
            return;
        }
        let (Some(cable), Some(reach)) = (self.setup.cable_m, self.setup.reach_m(self.height_m()))
        else {
            return;
        };
        let least = cable - self.height_m().unwrap_or(0.0).min(cable);
        let distance = f64::midpoint(least, reach);
        let minutes = self.slots.minutes.iter().rev().take(GUESS_MINUTES);
        let ahead: Vec<Spot> = minutes
            .filter_map(|minute| {
                let lead = minute.heading.or(minute.true_wind)?.direction()?;
                Some(minute.at? + lead * distance)
            })
            .collect();
        if ahead.len() < GUESS_MINUTES {
            return;
        }
        if let Some(centre) = mean(ahead.iter().copied()) {
            let scatter = ahead
                .iter()
                .map(|spot| (*spot - centre).length())
                .fold(0.0, f64::max);
            self.guessed = Some((centre, scatter.max(10.0) + (reach - least) / 2.0));
        }
    }

    /// Where the anchor lies as far as the watch knows, given or guessed.
    pub fn anchor_place(&self) -> Option<Position> {
        let (spot, _) = self.anchor()?;
        Some(self.plane.as_ref()?.place(spot))
    }

    /// What has never been heard since the watch began.
    pub fn unheard(&self) -> Vec<&'static str> {
        self.senses.unheard()
    }
}

/// Two signs that do not hang on each other are a drag and are said so; one asks for a look.
fn judge_together(signs: [&mut Option<Standing>; 3], is_shoaling: bool) {
    let count = signs.iter().filter(|sign| sign.is_some()).count() + usize::from(is_shoaling);
    for standing in signs.into_iter().filter_map(Option::as_mut) {
        if count >= 2 {
            standing.level = Level::Alarm;
            standing.cause = 1;
            standing.text = format!("dragging: {}", standing.text);
        } else {
            standing.text = format!("{}; check now and take bearings", standing.text);
        }
    }
}
