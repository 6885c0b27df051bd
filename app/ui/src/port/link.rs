//! How it stands between this device and the ship, and what she shows.

use journal::Board;
use journal::log::Checked;
use journal::watch::WatchPage;
use leptos::prelude::*;

/// How it stands between this device and the ship.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Link {
    /// Records that the ship has not acknowledged.
    pub waiting: usize,
    /// When the ship was last heard, ms UTC by this device's clock.
    pub heard_ms: Option<i64>,
    /// Records are travelling now.
    pub busy: bool,
    /// Why the last try failed, in words.
    pub trouble: Option<String>,
    /// Records that the ship refused, and why.
    pub refused: Vec<(String, String)>,
    /// How far this device's clock is ahead of the ship's, ms.
    pub offset_ms: Option<i64>,
    /// The ship has said that she does not know who looks, and the key that would tell her is put away.
    pub is_unknown: bool,
}

/// What is known of the ship, as pages see it. Cheap to copy.
#[derive(Debug, Clone, Copy, Default)]
pub struct LinkSignals {
    /// How it stands with the ship.
    pub state: RwSignal<Link>,
    /// What this device has found out about the log of its ship.
    pub log: RwSignal<Checked>,
    /// The ship's board as last heard, and whether it is being heard.
    pub board: RwSignal<Option<Board>>,
    /// When the board was last heard, ms UTC by this device's clock.
    pub board_heard_ms: RwSignal<Option<i64>>,
    /// The anchor watch as last heard, while a page shows it.
    pub anchor_watch: RwSignal<Option<WatchPage>>,
    /// When that was, ms UTC by this device's clock.
    pub anchor_heard_ms: RwSignal<Option<i64>>,
}
