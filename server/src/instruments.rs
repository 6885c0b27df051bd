//! The ship's instruments: sentences from several sources, each counted and shown, none of which ends anything.
//!
//! Each source has a task that listens and, where it is lost, tries again after a while that grows. What it hears goes
//! into one queue with a bound; what finds no room there is counted as passed over. Who takes from the queue says of
//! each sentence what became of it ([`Instruments::took`]).

pub mod address;
mod hear;
mod lines;

use address::SourceAddress;
use journal::watch::{InputsPage, SentenceLine, SourceLine};
use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use tokio::sync::{mpsc, watch};

/// How many sentences wait at most: some seconds of three sources at 10 Hz.
const QUEUE: usize = 1024;
/// How many kinds of sentences of one source are told apart; a source that makes names up must not fill the memory.
const MOST_KINDS: usize = 48;
/// How much of a sentence is shown.
const SHOWN: usize = 82;

/// A sentence as it came.
#[derive(Debug)]
pub struct Heard {
    /// Whose: its place in the list.
    pub source: usize,
    /// When, by the watch's time, ms.
    pub at_ms: i64,
    /// The line.
    pub line: Box<[u8]>,
}

/// What is known of one kind of sentence.
#[derive(Debug, Clone, Default)]
struct Kind {
    count: u64,
    refused: u64,
    last_ms: i64,
    shown: String,
    why: String,
}

/// What is known of one source.
#[derive(Debug, Clone, Default)]
struct Standing {
    is_open: bool,
    /// Why it is not open, or what is odd.
    trouble: String,
    since_ms: i64,
    last_ms: Option<i64>,
    heard: u64,
    refused: u64,
    passed_over: u64,
    kinds: BTreeMap<String, Kind>,
}

/// The sources and what is known of them.
#[derive(Debug)]
pub struct Instruments {
    sources: Vec<SourceAddress>,
    orders: Vec<[u8; 4]>,
    standing: Mutex<Vec<Standing>>,
    began_ms: i64,
}

impl Instruments {
    /// Makes the list of sources; nothing is heard before [`Instruments::listen`].
    pub fn new(sources: Vec<SourceAddress>, now_ms: i64) -> Self {
        let standing = vec![
            Standing {
                since_ms: now_ms,
                ..Standing::default()
            };
            sources.len()
        ];
        Self {
            orders: address::orders(&sources),
            standing: Mutex::new(standing),
            sources,
            began_ms: now_ms,
        }
    }

    /// Returns the watch's time at a moment: the same, or faster where a night is replayed.
    pub fn watch_ms(&self, now_ms: i64) -> i64 {
        let rate = self.rate().unwrap_or(1.0);
        let since = (now_ms - self.began_ms) as f64 * rate;
        #[expect(
            clippy::cast_possible_truncation,
            reason = "some years of ms, which an i64 holds"
        )]
        let since = since as i64;
        self.began_ms + since
    }

    /// Returns how fast a night is replayed; none where the ship's own instruments are heard.
    pub fn rate(&self) -> Option<f64> {
        self.sources.first().and_then(SourceAddress::rate)
    }

    /// Says whether there are none.
    pub fn is_empty(&self) -> bool {
        self.sources.is_empty()
    }

    /// Returns what the ship calls a source.
    pub fn name(&self, source: usize) -> &str {
        self.sources.get(source).map_or("", |of| of.name.as_str())
    }

    /// Returns where a source stands for each quantity.
    pub fn order(&self, source: usize) -> [u8; 4] {
        self.orders.get(source).copied().unwrap_or([u8::MAX; 4])
    }

    /// Starts to listen to every source; what is heard comes out of the queue.
    pub fn listen(
        self: &std::sync::Arc<Self>,
        closing: &watch::Receiver<bool>,
    ) -> mpsc::Receiver<Heard> {
        let (sender, heard) = mpsc::channel(QUEUE);
        for at in 0..self.sources.len() {
            let ear = hear::Ear::new(std::sync::Arc::clone(self), at, sender.clone());
            let mut closing = closing.clone();
            tokio::spawn(async move {
                tokio::select! {
                    () = ear.listen() => {}
                    _ = closing.wait_for(|closing| *closing) => {}
                }
            });
        }
        heard
    }

    fn table(&self) -> MutexGuard<'_, Vec<Standing>> {
        self.standing.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn with(&self, source: usize, change: impl FnOnce(&mut Standing)) {
        if let Some(standing) = self.table().get_mut(source) {
            change(standing);
        }
    }

    /// Notes that a source is open, or why not.
    fn note_open(&self, source: usize, outcome: Result<(), String>, now_ms: i64) {
        self.with(source, |standing| {
            let is_open = outcome.is_ok();
            if is_open != standing.is_open {
                standing.since_ms = now_ms;
            }
            standing.is_open = is_open;
            standing.trouble = outcome.err().unwrap_or_default();
        });
    }

    /// Counts a sentence for which there was no room.
    fn note_passed_over(&self, source: usize) {
        self.with(source, |standing| standing.passed_over += 1);
    }

    /// Counts a sentence, and why it is not believed where it is not.
    pub fn took(&self, heard: &Heard, refused: Option<&str>) {
        self.with(heard.source, |standing| {
            standing.heard += 1;
            standing.last_ms = Some(heard.at_ms);
            let name = name_of(&heard.line);
            let is_room = standing.kinds.len() < MOST_KINDS;
            let name = if is_room || standing.kinds.contains_key(&name) {
                name
            } else {
                "…".to_owned()
            };
            let kind = standing.kinds.entry(name).or_default();
            kind.count += 1;
            kind.last_ms = heard.at_ms;
            kind.shown = String::from_utf8_lossy(&heard.line)
                .chars()
                .filter(|one| !one.is_control())
                .take(SHOWN)
                .collect();
            if let Some(why) = refused {
                standing.refused += 1;
                kind.refused += 1;
                why.clone_into(&mut kind.why);
            }
        });
    }

    /// Makes the page of inputs.
    pub fn page(&self, now_ms: i64) -> InputsPage {
        let now_ms = self.watch_ms(now_ms);
        let table = self.table();
        let lines = self.sources.iter().zip(table.iter()).enumerate();
        let lines = lines.map(|(at, (source, standing))| SourceLine {
            name: source.name.clone(),
            road: source.road_text(),
            is_open: standing.is_open,
            trouble: standing.trouble.clone(),
            since_ms: standing.since_ms,
            last_ms: standing.last_ms,
            heard: standing.heard,
            refused: standing.refused,
            passed_over: standing.passed_over,
            order: self.orders[at],
            sentences: standing.kinds.iter().map(line_of).collect(),
        });
        InputsPage {
            now_ms,
            replay: self.rate(),
            sources: lines.collect(),
        }
    }
}

fn line_of((name, kind): (&String, &Kind)) -> SentenceLine {
    SentenceLine {
        name: name.clone(),
        count: kind.count,
        refused: kind.refused,
        last_ms: kind.last_ms,
        shown: kind.shown.clone(),
        why: kind.why.clone(),
    }
}

/// Returns a sentence's name, its talker and kind: what stands before the first comma, where that can be one.
fn name_of(line: &[u8]) -> String {
    let begin = line.iter().rposition(|byte| matches!(byte, b'$' | b'!'));
    let rest = begin.map_or(&b""[..], |begin| &line[begin + 1..]);
    let end = rest.iter().position(|byte| *byte == b',').unwrap_or(0);
    let name = &rest[..end];
    let is_name = (3..=8).contains(&name.len()) && name.iter().all(u8::is_ascii_alphanumeric);
    if is_name {
        String::from_utf8_lossy(name).into_owned()
    } else {
        "?".to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(line: &str) -> Heard {
        Heard {
            source: 0,
            at_ms: 7,
            line: line.as_bytes().into(),
        }
    }

    #[test]
    fn whatever_comes_is_counted_and_the_table_stays_small() {
        let sources = SourceAddress::all(&["gps=udp://127.0.0.1:0".to_owned()]).unwrap();
        let instruments = Instruments::new(sources, 0);
        instruments.took(&heard("$GPGGA,1*00"), Some("the checksum is wrong"));
        instruments.took(&heard("\u{1}rubbish"), Some("this is not a sentence"));
        for number in 0..500 {
            instruments.took(&heard(&format!("$XX{number:03},1*00")), None);
        }
        let page = instruments.page(0);
        let source = &page.sources[0];
        assert_eq!((source.heard, source.refused), (502, 2));
        assert!(source.sentences.len() <= MOST_KINDS + 1);
        let gga = source.sentences.iter().find(|line| line.name == "GPGGA");
        let gga = gga.unwrap();
        assert_eq!(
            (gga.refused, gga.why.as_str()),
            (1, "the checksum is wrong")
        );
    }

    #[test]
    fn a_replays_time_runs_as_fast_as_it_is_told() {
        let of = |text: &str| {
            Instruments::new(SourceAddress::all(&[text.to_owned()]).unwrap(), 1000).watch_ms(3000)
        };
        assert_eq!(of("file:x?rate=60"), 121_000);
        assert_eq!(of("udp://127.0.0.1:0"), 3000);
    }
}
