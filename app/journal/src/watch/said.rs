//! What is put on record about the anchor watch.

use minicbor::{Decode, Encode};
use record::RecordId;

/// What was said of the anchor watch, and when by the watch's time.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
#[cbor(array)]
pub struct WatchBody {
    /// When, ms UTC; for what the watch itself says, the moment for which it holds.
    #[n(0)]
    pub at_ms: i64,
    /// What.
    #[n(1)]
    pub said: WatchSaid,
}

/// What was said of the anchor watch.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode)]
pub enum WatchSaid {
    /// Where the anchor lies, or how much cable is out. A place begins the watch over that anchor.
    #[n(0)]
    Set {
        /// Degrees north, 1e-7.
        #[n(0)]
        latitude_e7: Option<i32>,
        /// Degrees east, 1e-7.
        #[n(1)]
        longitude_e7: Option<i32>,
        /// Cable from the hawse to the anchor, cm.
        #[n(2)]
        cable_cm: Option<u32>,
        /// By what that is known.
        #[n(3)]
        why: String,
    },
    /// The watch raises an alarm, changes its level or takes it back. Signed by the ship's own key.
    #[n(1)]
    Alarm {
        /// What about, as the watch names its alarms.
        #[n(0)]
        about: String,
        /// How grave: 0 it is over, 1 caution, 2 warning, 3 alarm.
        #[n(1)]
        level: u8,
        /// In words, with figures.
        #[n(2)]
        text: String,
    },
    /// An officer has seen an alarm. It ends nothing but the wait for somebody to look.
    #[n(2)]
    Seen {
        /// The record that raised it.
        #[n(0)]
        alarm: RecordId,
    },
    /// Whoever signs keeps the watch from now on.
    #[n(3)]
    Taken,
    /// Whoever signs calls the master.
    #[n(4)]
    Call {
        /// Why, in words.
        #[n(0)]
        words: String,
    },
    /// The watch is over: she has weighed.
    #[n(5)]
    End {
        /// Why, in words.
        #[n(0)]
        why: String,
    },
}
