//! A ship at anchor, for nights that can be replayed: the same seed makes the same night.
//!
//! Her hawse is drawn toward the place where the catenary holds her against wind and stream, behind it by her own
//! slowness; she yaws about it; satellites and instruments add their errors.

#![expect(
    clippy::cast_possible_truncation,
    reason = "a night's seconds and an AIS message's fields are small"
)]

use seamanship::catenary::{Hang, hang};
use seamanship::units::{Metres, Newtons, NewtonsPerMetre};
use serde::Deserialize;
use serde_json::Value;
use std::fmt::Write as _;

/// What a night is made of. Times are seconds from its beginning.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Night {
    pub name: String,
    pub kind: String,
    pub seed: u64,
    pub hours: f64,
    pub setup: Value,
    #[serde(default)]
    pub wind: Wind,
    #[serde(default)]
    pub stream_kn: f64,
    /// The stream turns about at this time, within half an hour.
    #[serde(default)]
    pub turns_at: Option<f64>,
    #[serde(default = "forty")]
    pub yaw_deg: f64,
    #[serde(default)]
    pub wander_m: f64,
    #[serde(default)]
    pub noise_m: f64,
    #[serde(default)]
    pub is_differential: bool,
    #[serde(default)]
    pub without: Vec<String>,
    #[serde(default)]
    pub event: Event,
    #[serde(default)]
    pub expect: Vec<Expected>,
    /// What else may be said; all other alarms are false.
    #[serde(default)]
    pub may: Vec<String>,
}

fn forty() -> f64 {
    40.0
}

/// The wind of a night.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Wind {
    pub kn: f64,
    pub from_deg: f64,
    pub gusts: f64,
    /// How much it veers in all, and within how many seconds.
    pub veer_deg: f64,
    pub veer_s: f64,
    /// What it rises to, from the event on, within `rise_s`.
    pub rises_to_kn: Option<f64>,
    pub rise_s: f64,
}

impl Default for Wind {
    fn default() -> Self {
        Self {
            kn: 14.0,
            from_deg: 300.0,
            gusts: 0.15,
            veer_deg: 0.0,
            veer_s: 7200.0,
            rises_to_kn: None,
            rise_s: 1800.0,
        }
    }
}

/// What happens.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Event {
    /// When it begins.
    pub at: f64,
    /// The anchor comes home at this speed.
    pub drag_kn: f64,
    /// She lies to a slack cable: so much of the reach is taken.
    pub slack: Option<f64>,
    /// One of `dead`, `no-fix`, `frozen`, `datum`, `hdop`, `heading-lost`, `reversed`, `jump`, `shoal`, `neighbour`, `beam`.
    pub what: String,
}

/// An alarm that has to come.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Expected {
    pub alarm: String,
    /// At least as grave.
    pub level: String,
    /// At the latest so many seconds after the event.
    pub within_s: f64,
}

/// When every night begins: 2026-11-27, 18:00 UTC.
pub const BEGIN_MS: i64 = 1_795_802_400_000;
const KNOT: f64 = 1852.0 / 3600.0;
/// The ship's force of wind, N for (m/s)², and of the stream.
const WIND_FORCE: f64 = 180.0;
const STREAM_FORCE: f64 = 40_000.0;
const CHAIN_N_PER_M: f64 = 420.0;
const DEPTH_M: f64 = 16.0;

struct Dice(u64);

impl Dice {
    fn next(&mut self) -> f64 {
        // SplitMix64.
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// About normal, with a deviation of 1.
    fn error(&mut self) -> f64 {
        (0..12).map(|_| self.next()).sum::<f64>() - 6.0
    }
}

/// A value that wanders about 0.
struct Wander {
    value: f64,
    deviation: f64,
    seconds: f64,
}

impl Wander {
    fn new(deviation: f64, seconds: f64) -> Self {
        Self {
            value: 0.0,
            deviation,
            seconds,
        }
    }

    fn step(&mut self, dice: &mut Dice) -> f64 {
        let keep = (-1.0 / self.seconds).exp();
        self.value = self.value * keep + dice.error() * self.deviation * (1.0 - keep * keep).sqrt();
        self.value
    }
}

/// Puts a sentence's checksum behind it.
pub fn summed(sentence: &str) -> String {
    let sum = sentence[1..].bytes().fold(0, |sum, byte| sum ^ byte);
    format!("{sentence}*{sum:02X}")
}

fn degrees(value: f64, letters: (char, char), digits: usize) -> String {
    let letter = if value < 0.0 { letters.1 } else { letters.0 };
    let minutes = (value.abs() * 60.0 * 1e4).round() / 1e4;
    let whole = (minutes / 60.0).floor();
    format!("{whole:0digits$.0}{:07.4},{letter}", minutes - whole * 60.0)
}

/// Packs an AIS position report of class A.
fn ais(mmsi: u32, at: (f64, f64), speed_kn: f64, course_deg: f64) -> String {
    let mut bits: Vec<u8> = Vec::new();
    let mut put = |value: i64, count: u32| {
        bits.extend((0..count).rev().map(|bit| u8::from(value >> bit & 1 == 1)));
    };
    let whole = |value: f64| value.round() as i64;
    for (value, count) in [
        (1, 6),
        (0, 2),
        (i64::from(mmsi), 30),
        (0, 4),
        (128, 8),
        (whole(speed_kn * 10.0), 10),
        (0, 1),
    ] {
        put(value, count);
    }
    put(whole(at.1 * 600_000.0), 28);
    put(whole(at.0 * 600_000.0), 27);
    for (value, count) in [(whole(course_deg * 10.0), 12), (511, 9), (0, 6), (0, 25)] {
        put(value, count);
    }
    let packed: String = bits
        .chunks(6)
        .map(|six| {
            let value = six.iter().fold(0, |value, bit| value << 1 | bit);
            char::from(if value < 40 { value + 48 } else { value + 56 })
        })
        .collect();
    summed(&format!("!AIVDM,1,1,,A,{packed},0"))
}

impl Night {
    fn number(&self, pointer: &str, otherwise: f64) -> f64 {
        self.setup
            .pointer(pointer)
            .and_then(Value::as_f64)
            .unwrap_or(otherwise)
    }

    /// When the event begins, milliseconds.
    pub fn event_ms(&self) -> i64 {
        BEGIN_MS + (self.event.at * 1000.0) as i64
    }

    fn wind_at(&self, t: f64) -> (f64, f64) {
        let wind = &self.wind;
        let risen = ((t - self.event.at) / wind.rise_s).clamp(0.0, 1.0);
        let speed = wind.kn + wind.rises_to_kn.map_or(0.0, |to| (to - wind.kn) * risen);
        let veered = ((t - self.event.at) / wind.veer_s).clamp(0.0, 1.0);
        (speed, wind.from_deg + wind.veer_deg * veered)
    }

    /// Writes the night, a line each sentence.
    pub fn lines(&self) -> String {
        let mut dice = Dice(self.seed);
        let (lat0, lon0) = (-43.5, -20.02);
        let (north_m, east_m) = (111_110.0, 111_320.0 * f64::to_radians(lat0).cos());
        let anchor0 = (
            self.number("/anchor/lat", lat0),
            self.number("/anchor/lon", lon0),
        );
        let mut anchor = (0.0, 0.0);
        let chain = Hang {
            height: Metres(DEPTH_M + 4.0),
            length: Metres(self.number("/cable_m", 110.0)),
            weight: NewtonsPerMetre(CHAIN_N_PER_M),
            stiffness: None,
        };
        let offset = (
            self.number("/antenna/forward_m", -24.0),
            self.number("/antenna/starboard_m", 1.0),
        );
        let mut gust = Wander::new(self.wind.gusts, 45.0);
        let mut shift = Wander::new(6.0, 300.0);
        let mut wander = (
            Wander::new(self.wander_m, 500.0),
            Wander::new(self.wander_m, 500.0),
        );
        let yaw_period = 420.0 + 120.0 * dice.next();
        let mut hawse: Option<(f64, f64)> = None;
        let mut frozen: Option<String> = None;
        let mut out = String::new();
        let is = |what: &str, t: f64| self.event.what == what && t >= self.event.at;
        let has = |what: &str| !self.without.iter().any(|without| without == what);
        for second in 0..(self.hours * 3600.0) as i64 {
            let t = second as f64;
            let ms = BEGIN_MS + second * 1000;
            let (mean_kn, from_deg) = self.wind_at(t);
            let wind_kn = (mean_kn * (1.0 + gust.step(&mut dice))).max(0.0);
            let wind_from = from_deg + shift.step(&mut dice);
            let speed = wind_kn * KNOT;
            let downwind = (wind_from + 180.0).to_radians();
            let turn = self
                .turns_at
                .map_or(1.0, |at| 1.0 - 2.0 * ((t - at) / 1800.0).clamp(0.0, 1.0));
            let stream = self.stream_kn * turn * KNOT;
            let force = (
                WIND_FORCE * speed * speed * downwind.sin(),
                WIND_FORCE * speed * speed * downwind.cos() + STREAM_FORCE * stream * stream.abs(),
            );
            let pull = force.0.hypot(force.1);
            let yaw = (t / yaw_period * std::f64::consts::TAU).sin();
            let lag = (t / yaw_period * std::f64::consts::TAU + 0.8).sin();
            let lie = force.0.atan2(force.1);
            let reach = hang(&chain, Newtons(pull)).map_or(80.0, |hung| hung.reach.0);
            let reach = self.event.slack.map_or(reach, |slack| reach * slack);
            if self.event.drag_kn > 0.0 && t >= self.event.at {
                anchor.0 += self.event.drag_kn * KNOT * lie.sin();
                anchor.1 += self.event.drag_kn * KNOT * lie.cos();
            }
            let swung = lie + (self.yaw_deg * 0.4 * yaw).to_radians();
            let target = (
                anchor.0 + reach * swung.sin(),
                anchor.1 + reach * swung.cos(),
            );
            let now = hawse.get_or_insert(target);
            let step = ((target.0 - now.0) / 60.0, (target.1 - now.1) / 60.0);
            // She moves no faster than half a knot toward where she is held.
            let most = (0.26 / step.0.hypot(step.1).max(1e-9)).min(1.0);
            now.0 += step.0 * most;
            now.1 += step.1 * most;
            let mut heading = lie.to_degrees() + 180.0 + self.yaw_deg * lag;
            if is("beam", t) {
                heading = wind_from + 80.0;
            }
            let heading = heading.rem_euclid(360.0);
            let ahead = heading.to_radians();
            let mut antenna = (
                now.0
                    + offset.0 * ahead.sin()
                    + offset.1 * ahead.cos()
                    + wander.0.step(&mut dice)
                    + dice.error() * self.noise_m,
                now.1 + offset.0 * ahead.cos() - offset.1 * ahead.sin()
                    + wander.1.step(&mut dice)
                    + dice.error() * self.noise_m,
            );
            if self.event.what == "jump" && second == self.event.at as i64 {
                antenna.0 += 200.0;
            }
            let place = (
                anchor0.0 + antenna.1 / north_m,
                anchor0.1 + antenna.0 / east_m,
            );
            if is("dead", t) {
                continue;
            }
            let of_day = second + 18 * 3600;
            let time = format!(
                "{:02}{:02}{:02}.00",
                of_day / 3600 % 24,
                of_day / 60 % 60,
                of_day % 60
            );
            let mut say = |sentence: String| {
                let _ = writeln!(out, "{ms} {sentence}");
            };
            let hdop = if is("hdop", t) { 6.3 } else { 0.9 };
            let quality = if is("no-fix", t) {
                0
            } else {
                1 + i32::from(self.is_differential)
            };
            let gga = summed(&format!(
                "$GPGGA,{time},{},{},{quality},09,{hdop:.1},12.0,M,47.0,M,,",
                degrees(place.0, ('N', 'S'), 2),
                degrees(place.1, ('E', 'W'), 3),
            ));
            let gga = if is("frozen", t) {
                frozen.get_or_insert(gga).clone()
            } else {
                gga
            };
            say(gga);
            if is("datum", t) && second % 10 == 0 {
                say(summed("$GPDTM,EUR,,0.0120,N,0.0810,W,-47.0,W84"));
            }
            if has("heading") && !is("heading-lost", t) {
                let told = if is("reversed", t) {
                    heading + 180.0
                } else {
                    heading
                };
                say(summed(&format!("$HEHDT,{:.1},T", told.rem_euclid(359.95))));
            }
            if has("wind") {
                let angle = (wind_from - heading).rem_euclid(359.95);
                say(summed(&format!("$WIMWV,{angle:.1},R,{wind_kn:.1},N,A")));
            }
            if has("depth") && second % 5 == 0 {
                let fallen = if is("shoal", t) {
                    (t - self.event.at) / 3600.0 * 6.0
                } else {
                    0.0
                };
                let tide = 0.8 * (t / 44_700.0 * std::f64::consts::TAU).sin();
                let depth = (DEPTH_M - 3.0 + tide - fallen + 0.1 * dice.error()).max(0.5);
                say(summed(&format!("$SDDPT,{depth:.1},3.0")));
            }
            if has("ais") && second % 10 == 0 {
                // One that lies at anchor half a mile off, and one that comes.
                say(ais(990_000_021, (anchor0.0 + 0.008, anchor0.1), 0.1, 20.0));
                if self.event.what == "neighbour" {
                    let north = 1500.0 - (t - self.event.at).max(0.0) * 1.2 * KNOT;
                    say(ais(
                        990_000_022,
                        (anchor0.0 + north / north_m, anchor0.1 + 0.0012),
                        1.2 * f64::from(t >= self.event.at),
                        180.0,
                    ));
                }
            }
        }
        out
    }
}
