//! What is heard, by whom, and how long ago: one main source for each quantity, another when it falls silent.

use serde::{Deserialize, Serialize};

use super::{Limits, Setup};
use crate::nmea::{DepthFrom, Fix, FixKind, North, Quality, WindFrom};
use crate::position::Position;

/// How long a main source may be silent before another is listened to.
const STAND_BY_MS: i64 = 10_000;
/// How long places must be of good geometry again before they count as such.
const GOOD_AGAIN_MS: i64 = 30_000;
/// The most talkers whose datum is remembered.
const MOST_DATUMS: usize = 8;

/// Who says something: a talker of a source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Whom {
    /// The source's number.
    pub source: u8,
    /// Where the source stands for position, heading, wind and depth: 0 is the main one, more is a stand-by.
    pub order: [u8; 4],
    /// The talker's two letters.
    pub talker: [u8; 2],
}

impl Whom {
    /// A talker of the only source.
    pub fn alone(talker: [u8; 2]) -> Self {
        Self {
            source: 0,
            order: [0; 4],
            talker,
        }
    }

    fn is_same(self, other: Self) -> bool {
        (self.source, self.talker) == (other.source, other.talker)
    }
}

/// How many ways there are to say one quantity, at most.
const WAYS: u16 = 8;

/// Whom a quantity is taken from.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Source {
    whom: Whom,
    /// How much it says; less is better.
    rank: u16,
    last_ms: i64,
}

/// The source in use, if any.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
struct Chosen(Option<Source>);

/// The quantities, as [`Whom::order`] counts them.
#[derive(Debug, Clone, Copy)]
enum Quantity {
    Position,
    Heading,
    Wind,
    Depth,
}

impl Chosen {
    /// Whether a source is to be listened to now; it becomes the one in use then.
    fn takes(&mut self, whom: Whom, of: Quantity, rank: u16, now_ms: i64) -> bool {
        let rank = u16::from(whom.order[of as usize]) * WAYS + rank;
        let takes = self.0.is_none_or(|chosen| {
            (chosen.whom.is_same(whom) && chosen.rank == rank)
                || rank < chosen.rank
                || now_ms - chosen.last_ms >= STAND_BY_MS
        });
        if takes {
            self.0 = Some(Source {
                whom,
                rank,
                last_ms: now_ms,
            });
        }
        takes
    }

    fn last_ms(&self) -> Option<i64> {
        self.0.map(|chosen| chosen.last_ms)
    }
}

/// A place that comes again and again to the last digit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Same {
    place: Position,
    since_ms: i64,
    decimals: u8,
}

/// What is heard.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Senses {
    /// When time began.
    pub(super) begun_ms: Option<i64>,
    fix: Chosen,
    same: Option<Same>,
    poor_since_ms: Option<i64>,
    good_since_ms: Option<i64>,
    hdop: Option<f64>,
    datums: Vec<(Whom, String)>,
    heading: Chosen,
    heading_deg: Option<f64>,
    variation_deg: Option<f64>,
    heading_same_since_ms: Option<i64>,
    wind: Chosen,
    depth: Chosen,
}

/// What takes the watch's sight, one bit each.
pub(super) mod cause {
    pub(in super::super) const NO_FIX: u16 = 1;
    pub(in super::super) const FROZEN: u16 = 2;
    pub(in super::super) const HDOP: u16 = 4;
    pub(in super::super) const DATUM: u16 = 8;
    pub(in super::super) const HEADING_LOST: u16 = 16;
    pub(in super::super) const REVERSED: u16 = 32;
    pub(in super::super) const HEADING_FROZEN: u16 = 64;
    pub(in super::super) const WIND_LOST: u16 = 128;
    pub(in super::super) const DEPTH_LOST: u16 = 256;
    /// Without a place nothing is judged.
    pub(in super::super) const PLACE: u16 = NO_FIX | FROZEN | HDOP | DATUM;
    /// What is known of and no more.
    pub(in super::super) const MINOR: u16 = WIND_LOST | DEPTH_LOST;
}

/// Milliseconds of a setting in seconds.
#[expect(
    clippy::cast_possible_truncation,
    reason = "settings lie between 0 and a million seconds"
)]
pub(super) fn ms(seconds: f64) -> i64 {
    (seconds * 1000.0) as i64
}

impl Senses {
    /// Takes a place, and returns it if it is to be believed.
    pub(super) fn fix(
        &mut self,
        now_ms: i64,
        whom: Whom,
        fix: &Fix,
        limits: &Limits,
    ) -> Option<(Position, Quality)> {
        let place = fix.place?;
        let rank = match fix.kind {
            FixKind::Full => 0,
            FixKind::Least => 1,
            FixKind::PlaceAlone => 2,
        };
        if !self.fix.takes(whom, Quantity::Position, rank, now_ms) {
            return None;
        }
        if self.same.is_none_or(|same| same.place != place) {
            self.same = Some(Same {
                place,
                since_ms: now_ms,
                decimals: fix.decimals,
            });
        }
        self.hdop = fix.hdop;
        if fix.hdop.is_some_and(|hdop| hdop > limits.hdop_most) {
            self.poor_since_ms.get_or_insert(now_ms);
            self.good_since_ms = None;
        } else {
            let good_since_ms = *self.good_since_ms.get_or_insert(now_ms);
            if now_ms - good_since_ms >= GOOD_AGAIN_MS || !self.is_poor(now_ms, limits) {
                self.poor_since_ms = None;
            }
        }
        let is_believed = self.good_since_ms.is_some()
            && !self.is_frozen(now_ms, limits)
            && self.wrong_datum().is_none();
        is_believed.then_some((place, fix.quality))
    }

    fn is_poor(&self, now_ms: i64, limits: &Limits) -> bool {
        self.poor_since_ms
            .is_some_and(|since| now_ms - since >= ms(limits.hdop_for_s))
    }

    fn frozen_at(&self, limits: &Limits) -> Option<i64> {
        let same = self.same?;
        let is_fine = same.decimals >= 4;
        let for_s = if is_fine {
            limits.frozen_s
        } else {
            limits.frozen_coarse_s
        };
        Some(same.since_ms + ms(for_s))
    }

    fn is_frozen(&self, now_ms: i64, limits: &Limits) -> bool {
        self.frozen_at(limits).is_some_and(|at| now_ms >= at)
    }

    /// The datum that is not WGS 84, if the source in use says so.
    pub(super) fn wrong_datum(&self) -> Option<&str> {
        let whom = self.fix.0.map(|source| source.whom);
        let of_it = |(whose, _): &&(Whom, String)| whom.is_none_or(|whom| whom.is_same(*whose));
        self.datums
            .iter()
            .find(of_it)
            .map(|(_, name)| name.as_str())
    }

    /// Takes what a talker says about its datum.
    pub(super) fn datum(&mut self, whom: Whom, is_wgs84: bool, name: &str) {
        self.datums.retain(|(whose, _)| !whose.is_same(whom));
        if !is_wgs84 {
            if self.datums.len() >= MOST_DATUMS {
                self.datums.remove(0);
            }
            self.datums.push((whom, name.to_owned()));
        }
    }

    /// Takes a variation, east positive.
    pub(super) fn variation(&mut self, variation_deg: Option<f64>) {
        self.variation_deg = variation_deg.or(self.variation_deg);
    }

    /// Takes a heading.
    pub(super) fn heading(&mut self, now_ms: i64, whom: Whom, heading_deg: f64, north: North) {
        let (rank, true_deg) = match north {
            North::True => (0, Some(heading_deg)),
            North::Magnetic(variation_deg) => {
                self.variation(variation_deg);
                let variation_deg = variation_deg.or(self.variation_deg);
                (
                    1,
                    variation_deg.map(|by| (heading_deg + by).rem_euclid(360.0)),
                )
            }
        };
        let Some(true_deg) = true_deg else { return };
        if self.heading.takes(whom, Quantity::Heading, rank, now_ms) {
            if self
                .heading_deg
                .is_none_or(|before| (before - true_deg).abs() > 1e-9)
            {
                self.heading_same_since_ms = Some(now_ms);
            }
            self.heading_deg = Some(true_deg);
        }
    }

    /// The heading now, if it is fresh.
    pub(super) fn heading_deg(&self, now_ms: i64, limits: &Limits) -> Option<f64> {
        let last_ms = self.heading.last_ms()?;
        self.heading_deg
            .filter(|_| now_ms - last_ms < ms(limits.heading_lost_s))
    }

    /// Since when the heading has been the same to the last digit.
    pub(super) fn heading_same_since_ms(&self) -> Option<i64> {
        self.heading_same_since_ms
    }

    /// Whether a wind is to be listened to.
    pub(super) fn wind(&mut self, now_ms: i64, whom: Whom, from: WindFrom) -> bool {
        let rank = match from {
            WindFrom::Bow => 0,
            WindFrom::North => 1,
            WindFrom::Apparent => 2,
        };
        self.wind.takes(whom, Quantity::Wind, rank, now_ms)
    }

    /// Whether a depth is to be listened to.
    pub(super) fn depth(&mut self, now_ms: i64, whom: Whom, from: DepthFrom) -> bool {
        let rank = match from {
            DepthFrom::Transducer(Some(_)) => 0,
            DepthFrom::Surface | DepthFrom::Keel => 1,
            DepthFrom::Transducer(None) => 2,
        };
        self.depth.takes(whom, Quantity::Depth, rank, now_ms)
    }

    /// The moments at which something will have been silent for too long, with what it takes away.
    pub(super) fn deadlines(&self, setup: &Setup) -> Vec<(i64, u16)> {
        let limits = &setup.settings;
        let needs_wind = setup.wind_limits_kn != super::setup::WindLimits::default();
        let needs_depth = setup.ukc_min_m.is_some();
        let after = |from: Option<i64>, seconds| from.map(|from| from + ms(seconds));
        let all = [
            (
                after(self.fix.last_ms().or(self.begun_ms), limits.no_fix_s),
                cause::NO_FIX,
            ),
            (self.frozen_at(limits), cause::FROZEN),
            (after(self.poor_since_ms, limits.hdop_for_s), cause::HDOP),
            (
                after(self.heading.last_ms(), limits.heading_lost_s),
                cause::HEADING_LOST,
            ),
            (
                after(
                    self.wind.last_ms().filter(|_| needs_wind),
                    limits.other_lost_s,
                ),
                cause::WIND_LOST,
            ),
            (
                after(
                    self.depth.last_ms().filter(|_| needs_depth),
                    limits.other_lost_s,
                ),
                cause::DEPTH_LOST,
            ),
        ];
        all.into_iter()
            .filter_map(|(at, cause)| Some((at?, cause)))
            .collect()
    }

    /// What is taken away at a moment.
    pub(super) fn lost(&self, now_ms: i64, setup: &Setup) -> u16 {
        let passed = |(at, cause): (i64, u16)| if now_ms >= at { cause } else { 0 };
        let mut lost = self
            .deadlines(setup)
            .into_iter()
            .map(passed)
            .fold(0, |all, one| all | one);
        // A receiver that is silent has not frozen, and says nothing about its geometry.
        if lost & cause::NO_FIX != 0 {
            lost &= !(cause::FROZEN | cause::HDOP);
        }
        if self.wrong_datum().is_some() {
            lost |= cause::DATUM;
        }
        lost
    }

    /// What is lost, in words.
    pub(super) fn words(&self, now_ms: i64, lost: u16) -> String {
        let since = |last: Option<i64>| {
            let seconds = last.map_or(0, |last| (now_ms - last) / 1000);
            format!("for {seconds} s")
        };
        let mut words = Vec::new();
        let mut say = |cause, text: String| {
            if lost & cause != 0 {
                words.push(text);
            }
        };
        say(
            cause::NO_FIX,
            format!(
                "no position {}",
                since(self.fix.last_ms().or(self.begun_ms))
            ),
        );
        say(
            cause::FROZEN,
            format!(
                "the position has been the same to the last digit {}",
                since(self.same.map(|same| same.since_ms))
            ),
        );
        say(
            cause::HDOP,
            format!(
                "the satellites stand badly: HDOP {:.1}",
                self.hdop.unwrap_or_default()
            ),
        );
        say(
            cause::DATUM,
            format!(
                "positions are not on WGS 84 but on {}",
                self.wrong_datum().unwrap_or("another datum")
            ),
        );
        say(
            cause::HEADING_LOST,
            format!("no heading {}", since(self.heading.last_ms())),
        );
        say(
            cause::REVERSED,
            "the heading points away from the anchor while she lies to it: it is off by about 180°"
                .to_owned(),
        );
        say(
            cause::HEADING_FROZEN,
            format!(
                "the heading has been the same {} while she swung",
                since(self.heading_same_since_ms)
            ),
        );
        say(
            cause::WIND_LOST,
            format!("no wind {}", since(self.wind.last_ms())),
        );
        say(
            cause::DEPTH_LOST,
            format!("no depth {}", since(self.depth.last_ms())),
        );
        words.join("; ")
    }

    /// Each quantity with the source in use and when it was heard last: position, heading, wind, depth.
    pub(super) fn in_use(&self) -> [(&'static str, Option<(Whom, i64)>); 4] {
        let of = |chosen: &Chosen| chosen.0.map(|source| (source.whom, source.last_ms));
        [
            ("position", of(&self.fix)),
            ("heading", of(&self.heading)),
            ("wind", of(&self.wind)),
            ("depth", of(&self.depth)),
        ]
    }

    /// How the satellites' geometry dilutes the position, as last said.
    pub(super) fn hdop(&self) -> Option<f64> {
        self.hdop
    }

    /// What has never been heard: the quantities' names.
    pub fn unheard(&self) -> Vec<&'static str> {
        let all = [
            ("position", self.fix),
            ("heading", self.heading),
            ("wind", self.wind),
            ("depth", self.depth),
        ];
        let never = all.into_iter().filter(|(_, chosen)| chosen.0.is_none());
        never.map(|(name, _)| name).collect()
    }
}
