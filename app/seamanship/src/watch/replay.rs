//! A night from a file: lines in, what the watch would have said out.

use serde::{Deserialize, Serialize};

use super::{Call, Setup, Watch};
use crate::nmea;

/// A leap of the time forward that the next line has to bear out.
const LEAP_MS: i64 = 10 * 60_000;
/// A time so little behind is another source's, and its sentence is taken at the time reached.
const BEHIND_MS: i64 = 10_000;
/// So many lines in a row with an earlier time say that the clock was set back.
const SET_BACK_LINES: u32 = 5;
/// Times beyond this are no times: the year 10000.
const LATEST_MS: i64 = 253_402_300_800_000;

/// What was read, at the end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct End {
    /// Always true: this is the last line.
    pub end: bool,
    /// Sentences that were read and believed, whether or not the watch uses them.
    pub sentences: u64,
    /// Lines that were not believed, for their time, their checksum or what they say.
    pub refused: u64,
    /// Lines whose time was behind the time reached; those only a little behind were taken all the same.
    pub backwards: u64,
    /// What was never heard, or is not known of the ship, so that nothing could be judged by it.
    pub unknown: Vec<&'static str>,
}

/// A night that is being replayed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Replay {
    watch: Watch,
    /// The time reached by the lines, which is the watch's but for `shift_ms`.
    line_ms: Option<i64>,
    shift_ms: i64,
    held: Option<(i64, Vec<u8>)>,
    behind: u32,
    behind_ms: i64,
    sentences: u64,
    refused: u64,
    backwards: u64,
}

impl Replay {
    /// Begins a night.
    pub fn new(setup: Setup) -> Self {
        Self {
            watch: Watch::new(setup),
            line_ms: None,
            shift_ms: 0,
            held: None,
            behind: 0,
            behind_ms: i64::MIN,
            sentences: 0,
            refused: 0,
            backwards: 0,
        }
    }

    /// The watch as it stands.
    pub fn watch(&self) -> &Watch {
        &self.watch
    }

    /// Takes a line, `MILLISECONDS SENTENCE`, and returns what the watch says. An empty line is none.
    pub fn line(&mut self, line: &[u8]) -> Vec<Call> {
        let mut calls = Vec::new();
        let line = line.trim_ascii();
        if line.is_empty() {
            return calls;
        }
        let Some((ms, sentence)) = Self::timed(line) else {
            self.refused += 1;
            return calls;
        };
        if let Some((held_ms, held)) = self.held.take() {
            if ms >= held_ms {
                self.take(held_ms, &held, &mut calls);
            } else {
                // The leap was a slip of its own line.
                self.refused += 1;
            }
        }
        if self.line_ms.is_some_and(|reached| ms - reached > LEAP_MS) {
            self.held = Some((ms, sentence.to_vec()));
        } else {
            self.take(ms, sentence, &mut calls);
        }
        calls
    }

    /// Counts a line that was too long to be kept.
    pub fn too_long(&mut self) {
        self.refused += 1;
    }

    /// Ends the night.
    pub fn end(mut self) -> (Vec<Call>, End) {
        let mut calls = Vec::new();
        if let Some((ms, sentence)) = self.held.take() {
            self.take(ms, &sentence, &mut calls);
        }
        // The last moment is over too.
        self.watch.pass(self.watch.now_ms + 1, &mut calls);
        let setup = self.watch.setup();
        let missing = [
            ("anchor", setup.anchor.is_none()),
            ("cable_m", setup.cable_m.is_none()),
            ("depth_m", setup.depth_m.is_none()),
            ("hawse_height_m", setup.hawse_height_m.is_none()),
            ("antenna", setup.antenna.is_none()),
            ("draught_m", setup.draught_m.is_none()),
            ("ukc_min_m", setup.ukc_min_m.is_none()),
        ];
        let missing = missing.into_iter().filter(|(_, is_missing)| *is_missing);
        let unknown = missing
            .map(|(name, _)| name)
            .chain(self.watch.unheard())
            .collect();
        let end = End {
            end: true,
            sentences: self.sentences,
            refused: self.refused,
            backwards: self.backwards,
            unknown,
        };
        (calls, end)
    }

    /// Divides a line of a night, `MILLISECONDS SENTENCE`, into its time and its sentence.
    pub fn timed(line: &[u8]) -> Option<(i64, &[u8])> {
        let space = line.iter().position(u8::is_ascii_whitespace)?;
        let (digits, rest) = line.split_at(space);
        let digits = std::str::from_utf8(digits).ok()?;
        if digits.len() > 15 || !digits.bytes().all(|byte| byte.is_ascii_digit()) {
            return None;
        }
        let ms: i64 = digits.parse().ok()?;
        (ms <= LATEST_MS).then(|| (ms, rest.trim_ascii_start()))
    }

    fn take(&mut self, ms: i64, sentence: &[u8], calls: &mut Vec<Call>) {
        let reached = self.line_ms.unwrap_or(ms);
        let mut at = ms;
        if ms < reached {
            self.backwards += 1;
            if reached - ms <= BEHIND_MS {
                at = reached;
            } else {
                self.behind = if ms >= self.behind_ms {
                    self.behind + 1
                } else {
                    1
                };
                self.behind_ms = ms;
                if self.behind < SET_BACK_LINES {
                    self.refused += 1;
                    return;
                }
                // The clock was set back: the watch's own time runs on.
                self.shift_ms += reached - ms;
            }
        }
        if ms >= reached || at == ms {
            self.behind = 0;
            self.behind_ms = i64::MIN;
        }
        self.line_ms = Some(at);
        let at = at + self.shift_ms;
        self.watch.pass(at, calls);
        match nmea::read(sentence) {
            Ok(read) if self.watch.hear(at, &read, calls).is_ok() => self.sentences += 1,
            _ => self.refused += 1,
        }
    }
}
