//! What the watch's pages show. All of it is reckoned by the server: a page draws what it gets.

use serde::{Deserialize, Serialize};

/// An alarm that stands, or that nobody has seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AlarmLine {
    /// The record that raised it; empty while it is not on record yet.
    pub id: String,
    /// What about.
    pub about: String,
    /// 1 caution, 2 warning, 3 alarm.
    pub level: u8,
    /// In words.
    pub text: String,
    /// When, ms UTC.
    pub at_ms: i64,
    /// It is over, and only waits to be seen.
    #[serde(default)]
    pub is_over: bool,
    /// Who has seen it; empty while nobody has.
    #[serde(default)]
    pub seen_by: String,
    /// To whom it has gone on, as nobody has seen it: 0 the bridge, 1 the master, 2 all.
    #[serde(default)]
    pub stage: u8,
}

/// One quantity: from where, and how old.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct InputLine {
    /// `position`, `heading`, `wind` or `depth`.
    pub name: String,
    /// The source in use; empty where nothing was ever heard.
    pub source: String,
    /// How old the newest is, s.
    pub age_s: Option<u32>,
}

/// The anchor watch at a moment.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct WatchPage {
    /// The watch's time, ms UTC.
    pub now_ms: i64,
    /// The server listens to instruments.
    pub has_inputs: bool,
    /// A night is replayed, so many times as fast: none of this is the ship's.
    pub replay: Option<f64>,
    /// Since when this anchor is watched; none where none is.
    pub since_ms: Option<i64>,
    /// Who keeps the watch, and since when.
    pub keeper: Option<(String, i64)>,
    /// What has to be looked at, the gravest first.
    pub alarms: Vec<AlarmLine>,
    /// From the anchor to the hawse, or the antenna, m.
    pub distance_m: Option<f64>,
    /// How far that may be, m.
    pub allowed_m: Option<f64>,
    /// The distance is the antenna's.
    pub is_antenna: bool,
    /// Cable from the hawse, m.
    pub cable_m: Option<f64>,
    /// How the cable leads and its weight, as the bow logged it last.
    pub lead: String,
    /// Wind now, mean of ten minutes, strongest gust of the hour, kn.
    pub wind_kn: [Option<f64>; 3],
    /// The master's limits: call, engines, weigh, kn.
    pub wind_limits_kn: [Option<f64>; 3],
    /// Water at the ship, under her keel, and the least that she keeps there, m.
    pub depth_m: [Option<f64>; 3],
    /// What the tide would have it, m.
    pub expected_depth_m: Option<f64>,
    /// Degrees true.
    pub heading_deg: Option<f64>,
    /// How she drifts, kn.
    pub drift_kn: Option<f64>,
    /// The nearest danger: its name, how far, m, and in how many minutes she is there at this drift.
    pub danger: Option<(String, f64, Option<f64>)>,
    /// How long the windlass heaves for all of the cable, min.
    pub weigh_min: Option<f64>,
    /// When the next bearings are due, ms UTC.
    pub bearings_due_ms: Option<i64>,
    /// How the position was found, in words.
    pub quality: String,
    /// What each quantity is taken from.
    pub inputs: Vec<InputLine>,
    /// Where the hawse is now, 1e-7 degrees north and east: what 'anchor is here' would take.
    pub here_e7: Option<(i32, i32)>,
    /// Alarms leave the program too: by a horn, by sentences.
    pub ways: [bool; 2],
    /// What is not known of the ship and her anchor, in words.
    pub missing: Vec<String>,
    /// The plot, drawn: the inside of an SVG.
    pub plot: String,
    /// Half the width of the plot, m.
    pub plot_m: f64,
}

/// One kind of sentence of a source.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SentenceLine {
    /// Talker and kind.
    pub name: String,
    /// How many came.
    pub count: u64,
    /// How many of them were not believed.
    pub refused: u64,
    /// When the last one came, ms.
    pub last_ms: i64,
    /// The last one.
    pub shown: String,
    /// Why the last one was not believed that was not.
    pub why: String,
}

/// A source of sentences.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SourceLine {
    /// What the ship calls it.
    pub name: String,
    /// On what road it is heard.
    pub road: String,
    /// It is open.
    pub is_open: bool,
    /// Why it is not.
    pub trouble: String,
    /// Since when it is open, or not.
    pub since_ms: i64,
    /// When something was heard last.
    pub last_ms: Option<i64>,
    /// How many sentences came.
    pub heard: u64,
    /// How many of them were not believed.
    pub refused: u64,
    /// How many were passed over, as too many came at once.
    pub passed_over: u64,
    /// Its place for position, heading, wind and depth: 0 is the main source.
    pub order: [u8; 4],
    /// Each kind of sentence.
    pub sentences: Vec<SentenceLine>,
}

/// What the server hears of the ship's instruments.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct InputsPage {
    /// The watch's time, ms UTC.
    pub now_ms: i64,
    /// A night is replayed, so many times as fast.
    pub replay: Option<f64>,
    /// Each source, the main one first.
    pub sources: Vec<SourceLine>,
}

/// A minute of a night.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct NightMinute {
    /// When, ms UTC.
    pub at_ms: i64,
    /// Where she was, m east of the anchor.
    pub east_m: f64,
    /// The same to the north.
    pub north_m: f64,
    /// Distance, wind, water and what stood, in words.
    pub said: String,
}

/// An alarm of a night.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NightAlarm {
    /// 1 caution, 2 warning, 3 alarm.
    pub level: u8,
    /// In words.
    pub text: String,
    /// When, ms UTC.
    pub at_ms: i64,
    /// Who has seen it.
    pub seen_by: Option<String>,
    /// After how long, s.
    pub seen_after_s: Option<i64>,
}

/// A night as it was.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct NightPage {
    /// Her track around the anchor, as the path of an SVG in metres, north up.
    pub path: String,
    /// Half the width of the drawing, m.
    pub half_m: f64,
    /// The minutes, oldest first.
    pub minutes: Vec<NightMinute>,
    /// The alarms, newest first.
    pub alarms: Vec<NightAlarm>,
}
