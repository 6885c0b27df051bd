//! The anchor watch of this server's own ship, as the fleet's pages reach it.

use super::Fleet;
use crate::anchor_watch::Desk;
use crate::anchor_watch::horn::{ESCALATE_S, Ways};
use crate::clock::now_ms;
use std::path::Path;
use std::sync::Arc;

impl Fleet {
    /// Returns what is seen of the anchor watch; one without instruments until [`Fleet::set_desk`] has been called.
    pub fn desk(&self) -> &Arc<Desk> {
        let without = || {
            let ways = Ways {
                horn: None,
                out: None,
                escalate_s: ESCALATE_S,
            };
            Arc::new(Desk::new(Path::new(""), Vec::new(), ways, now_ms()))
        };
        self.desk.get_or_init(without)
    }

    /// Gives the ship her watch's desk, once.
    pub fn set_desk(&self, desk: Desk) {
        // A second one is not taken: the first is kept already.
        let _ = self.desk.set(Arc::new(desk));
    }
}
