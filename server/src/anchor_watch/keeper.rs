//! Keeping the watch: what is heard, what is on record, and what is said.

mod anchor;

use super::horn::Horn;
use super::known::Known;
use super::page::page;
use super::series::Minute;
use super::trail::Trail;
use super::{Desk, Series};
use crate::clock::now_ms;
use crate::fleet::Fleet;
use crate::instruments::Heard;
use crate::private_file;
use journal::Body;
use journal::watch::{AlarmLine, OnRecord, WatchBody, WatchSaid};
use record::RecordId;
use seamanship::nmea;
use seamanship::position::Position;
use seamanship::watch::{Call, Kind, Level, Setup, Watch, Whom};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, VecDeque};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How long the watch looks before it takes back what another one had raised before the start, ms.
/// Source: our own: longer than the watch needs to raise what it judges by slots.
const SETTLED_MS: i64 = 180_000;
/// What was kept of a watch is taken up again if it is not older, ms.
const TAKEN_UP_MS: i64 = 30 * 60_000;
/// Between two keepings, ms.
const KEEP_MS: i64 = 120_000;
/// What waits to be put on record, at most: older calls of the same kind go first.
const MOST_WAITING: usize = 256;
/// How near in time a place must be to the moment at which the anchor touched the ground, ms.
const NEAR_MS: i64 = 30_000;
/// The file of what is kept.
const FILE: &str = "anchor-watch.json";

/// What is kept over a start.
#[derive(Debug, Serialize, Deserialize)]
struct Kept {
    /// The record by which the watch began.
    begun: Option<String>,
    watch: Watch,
    trail: Trail,
    waiting: VecDeque<Call>,
    at_ms: i64,
}

/// Keeps the watch.
#[derive(Debug)]
pub struct Keeper {
    fleet: Arc<Fleet>,
    desk: Arc<Desk>,
    file: PathBuf,
    watch: Watch,
    trail: Trail,
    /// Said and not on record yet.
    waiting: VecDeque<Call>,
    on: OnRecord,
    known: Known,
    /// Who is called what, for the page.
    names: BTreeMap<String, String>,
    /// What is on record has to be looked at again.
    is_stale: bool,
    looked_ms: i64,
    begun: Option<RecordId>,
    has_looked: bool,
    /// Of the file: to be compared with the record once that is read.
    kept_begun: Option<String>,
    settled_ms: i64,
    minute: i64,
    kept_ms: i64,
    horn: Horn,
}

impl Keeper {
    /// Takes up what was kept, if it is not old.
    pub fn open(fleet: Arc<Fleet>, desk: Arc<Desk>, data: &Path) -> Self {
        let now = desk.watch_ms(now_ms());
        let file = data.join(FILE);
        let kept = std::fs::read(&file).ok();
        let kept = kept.and_then(|bytes| serde_json::from_slice::<Kept>(&bytes).ok());
        let is_replay = desk.instruments.rate().is_some();
        let kept = kept.filter(|kept| {
            !is_replay && (0..TAKEN_UP_MS).contains(&(now - kept.at_ms)) && kept.begun.is_some()
        });
        let mut this = Self {
            fleet,
            desk,
            file,
            watch: Watch::new(Setup::default()),
            trail: Trail::default(),
            waiting: VecDeque::new(),
            on: OnRecord::default(),
            known: Known::default(),
            names: BTreeMap::new(),
            is_stale: true,
            looked_ms: now,
            begun: None,
            has_looked: false,
            kept_begun: None,
            settled_ms: now + SETTLED_MS,
            minute: now / 60_000,
            kept_ms: now,
            horn: Horn::default(),
        };
        if let Some(kept) = kept {
            this.watch = kept.watch;
            this.trail = kept.trail;
            this.waiting = kept.waiting;
            this.kept_begun = kept.begun;
        }
        this
    }

    /// What is on record may have changed.
    pub fn look_again(&mut self) {
        self.is_stale = true;
    }

    /// Takes a sentence.
    pub fn hear(&mut self, heard: &Heard) {
        let instruments = Arc::clone(&self.desk.instruments);
        let mut calls = Vec::new();
        let outcome = nmea::read(&heard.line).and_then(|sentence| {
            let whom = Whom {
                source: u8::try_from(heard.source).unwrap_or(u8::MAX),
                order: instruments.order(heard.source),
                talker: sentence.talker,
            };
            self.watch
                .hear_from(heard.at_ms, whom, &sentence, &mut calls)
        });
        let refused = outcome.err().map(|refused| refused.to_string());
        instruments.took(heard, refused.as_deref());
        self.say(calls);
    }

    /// Keeps what the watch says, while an anchor is watched.
    fn say(&mut self, calls: Vec<Call>) {
        if self.begun.is_none() && self.kept_begun.is_none() {
            return;
        }
        for call in calls {
            if self.waiting.len() >= MOST_WAITING {
                self.waiting.pop_front();
            }
            self.waiting.push_back(call);
        }
    }

    /// Lets a second pass.
    pub async fn second(&mut self) {
        let now = self.desk.watch_ms(now_ms());
        let mut calls = Vec::new();
        self.watch.pass(now, &mut calls);
        self.say(calls);
        // The tide moves on without a record.
        if self.is_stale || now - self.looked_ms >= 60_000 {
            self.look(now).await;
        }
        if self.is_idle() {
            return;
        }
        self.put_on_record(now).await;
        let glance = self.watch.glance();
        if let Some(place) = glance.place {
            self.trail.note(now, place);
        }
        self.anchor_down(now).await;
        self.anchor_up(now).await;
        let page = page(self, &glance, now);
        self.horn.look(&self.desk.ways, &page.alarms, now);
        if now / 60_000 != self.minute {
            self.minute = now / 60_000;
            self.keep_minute(&glance, now).await;
        }
        self.desk.show(page);
        if now - self.kept_ms >= KEEP_MS {
            self.kept_ms = now;
            self.put_away().await;
        }
    }

    /// Says whether there is nothing to watch and nothing to show: no instruments, no anchor, no alarm.
    fn is_idle(&self) -> bool {
        let is_deaf = self.desk.instruments.is_empty();
        is_deaf && self.begun.is_none() && self.on.open().next().is_none()
    }

    /// Reads what is on record, and goes on by it.
    async fn look(&mut self, now: i64) {
        self.is_stale = false;
        self.looked_ms = now;
        let Some(own) = self.fleet.own_vessel() else {
            return;
        };
        let is_deaf = self.desk.instruments.is_empty();
        let read = |ledger: &journal::Ledger| {
            let on = OnRecord::of(ledger);
            let known = if is_deaf && on.begun.is_none() {
                Known::default()
            } else {
                Known::gather(ledger, &on, now)
            };
            let seen = on.alarms.iter().filter_map(|alarm| alarm.seen.as_ref());
            let said = seen
                .map(|(by, _)| by)
                .chain(on.keeper.iter().map(|(by, _)| by));
            let names = said.map(|by| (by.clone(), ledger.name_of(by).to_owned()));
            let names = names.collect();
            (on, known, names)
        };
        match self.fleet.with(own, read).await {
            Ok((on, known, names)) => {
                self.on = on;
                self.known = known;
                self.names = names;
            }
            Err(error) => {
                tracing::warn!(%error, "what is on record of the anchor watch cannot be read");
                return;
            }
        }
        let begun = self.on.begun.as_ref().map(|(id, ..)| *id);
        let setup = match begun {
            Some(_) => self.known.setup.clone(),
            None => Setup::default(),
        };
        let was_kept = self.kept_begun.take();
        if let (Some(kept), Some(begun)) = (&was_kept, begun)
            && *kept == begun.to_string()
        {
            // It goes on where it was: what it raised stands, and it may take it back.
            self.settled_ms = now;
        } else if was_kept.is_some() {
            self.watch = Watch::new(Setup::default());
            self.waiting.clear();
        } else if self.has_looked && self.begun != begun {
            // A watch that has just begun has seen nothing of what the one before it raised.
            self.settled_ms = now;
        }
        self.has_looked = true;
        self.begun = begun;
        let mut calls = Vec::new();
        self.watch.change(setup, &mut calls);
        self.say(calls);
    }

    /// Puts what was said on record, in its order, then what differs between the watch and the record.
    async fn put_on_record(&mut self, now: i64) {
        self.say_difference(now);
        let mut is_any = false;
        while let Some(call) = self.waiting.front() {
            let replay = if self.desk.instruments.rate().is_some() {
                "REPLAY: "
            } else {
                ""
            };
            let said = WatchSaid::Alarm {
                about: about(call.alarm),
                level: level(call.level),
                text: format!("{replay}{}", call.text),
            };
            let at_ms = call.ms;
            let body = Body::Watch(WatchBody { at_ms, said });
            if let Err(error) = self.fleet.author(None, body, now_ms()).await {
                tracing::error!(%error, "an alarm of the anchor watch is said and not on record yet");
                break;
            }
            self.waiting.pop_front();
            is_any = true;
        }
        if is_any {
            self.look(now).await;
        }
    }

    /// Raises what the watch sees and the record has not, and takes back what it does not see any more.
    fn say_difference(&mut self, now: i64) {
        if self.begun.is_none() || self.kept_begun.is_some() {
            return;
        }
        for kind in Kind::ALL {
            if self.waiting.iter().any(|call| call.alarm == kind) {
                continue;
            }
            let recorded = self.on.level_of(&about(kind));
            let standing = self.watch.alarms().of(kind);
            match standing {
                Some(standing) if level(standing.level) != recorded => {
                    let call = Call {
                        ms: now,
                        alarm: kind,
                        level: standing.level,
                        text: standing.text.clone(),
                    };
                    self.waiting.push_back(call);
                }
                None if recorded > 0 && now >= self.settled_ms => self.waiting.push_back(Call {
                    ms: now,
                    alarm: kind,
                    level: Level::Clear,
                    text: "the watch does not see it any more".to_owned(),
                }),
                _ => {}
            }
        }
    }

    async fn keep_minute(&self, glance: &seamanship::watch::Glance, now: i64) {
        let standing = Kind::ALL.into_iter().filter_map(|kind| {
            let of = self.watch.alarms().of(kind)?;
            Some(format!("{}:{}", about(kind), level(of.level)))
        });
        let minute = Minute {
            at_ms: now,
            place: glance.place.map(|at| (at.latitude_deg, at.longitude_deg)),
            is_hawse: glance.is_hawse,
            figures: [
                glance.heading_deg,
                glance.distance_m,
                glance.allowed_m,
                self.known.setup.cable_m,
                glance.wind_kn[0],
                glance.wind_kn[2],
                glance.depth_m,
            ],
            alarms: standing.collect::<Vec<_>>().join(" "),
        };
        let series: Series = self.desk.series.clone();
        let adding = tokio::task::spawn_blocking(move || series.add(&minute));
        if let Ok(Err(error)) = adding.await {
            tracing::warn!(%error, "a minute of the anchor watch is not kept");
        }
    }

    /// Keeps the watch as it stands, so that a start goes on from here.
    pub async fn put_away(&self) {
        let kept = Kept {
            begun: self.begun.map(|begun| begun.to_string()),
            watch: self.watch.clone(),
            trail: self.trail.clone(),
            waiting: self.waiting.clone(),
            at_ms: self.desk.watch_ms(now_ms()),
        };
        let file = self.file.clone();
        let writing = tokio::task::spawn_blocking(move || {
            let bytes = serde_json::to_vec(&kept).map_err(std::io::Error::other)?;
            private_file::replace(&file, &bytes)
        });
        if let Ok(Err(error)) = writing.await {
            tracing::warn!(%error, "the anchor watch as it stands is not kept");
        }
    }

    /// Lists what has to be looked at, the gravest first: what is said and not on record yet, too.
    pub fn alarm_lines(&self, now_ms: i64) -> Vec<AlarmLine> {
        let name = |by: &String| self.names.get(by).unwrap_or(by).clone();
        let on_record = self.on.open().map(|alarm| AlarmLine {
            id: alarm.id.to_string(),
            about: alarm.about.clone(),
            level: alarm.level,
            text: alarm.text.clone(),
            at_ms: alarm.at_ms,
            is_over: alarm.over_ms.is_some(),
            stage: 0,
            seen_by: alarm
                .seen
                .as_ref()
                .map(|(by, _)| name(by))
                .unwrap_or_default(),
        });
        let waiting = self.waiting.iter().filter(|call| call.level > Level::Clear);
        let waiting = waiting.map(|call| AlarmLine {
            id: String::new(),
            about: about(call.alarm),
            level: level(call.level),
            text: call.text.clone(),
            at_ms: call.ms,
            is_over: false,
            seen_by: String::new(),
            stage: 0,
        });
        let mut lines: Vec<AlarmLine> = on_record.chain(waiting).collect();
        for line in &mut lines {
            line.stage = self.desk.ways.stage(line, now_ms);
        }
        lines.sort_by_key(|line| {
            let is_quiet = line.is_over || !line.seen_by.is_empty();
            (is_quiet, std::cmp::Reverse((line.level, line.at_ms)))
        });
        lines
    }

    /// Returns what was gathered from the record.
    pub fn known(&self) -> &Known {
        &self.known
    }

    /// Returns what the records come to.
    pub fn on_record(&self) -> &OnRecord {
        &self.on
    }

    /// Returns where she has been.
    pub fn trail(&self) -> &Trail {
        &self.trail
    }

    /// Returns the desk.
    pub fn desk(&self) -> &Desk {
        &self.desk
    }

    /// Returns what somebody is called.
    pub fn name_of(&self, person: &str) -> String {
        self.names
            .get(person)
            .map_or(person, String::as_str)
            .to_owned()
    }
}

/// Returns a place in 1e-7 degrees.
pub fn e7(place: Position) -> (i32, i32) {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "at most 180e7, which an i32 holds"
    )]
    let whole = |degrees: f64| (degrees * 1e7).round() as i32;
    (whole(place.latitude_deg), whole(place.longitude_deg))
}

/// Returns the word by which records name an alarm: the same as in the lines of a replay.
fn about(kind: Kind) -> String {
    match kind {
        Kind::Outside => "outside",
        Kind::AnchorMoves => "anchor-moves",
        Kind::NotRecovering => "not-recovering",
        Kind::Shoal => "shoal",
        Kind::Wind => "wind",
        Kind::Neighbour => "neighbour",
        Kind::Blind => "blind",
    }
    .to_owned()
}

fn level(level: Level) -> u8 {
    match level {
        Level::Clear => 0,
        Level::Caution => 1,
        Level::Warning => 2,
        Level::Alarm => 3,
    }
}
