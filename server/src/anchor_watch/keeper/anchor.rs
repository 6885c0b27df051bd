//! What the bow logs of the anchor begins the watch and ends it.

use super::{Keeper, NEAR_MS, e7, now_ms};
use journal::Body;
use journal::watch::{WatchBody, WatchSaid};

impl Keeper {
    /// Begins the watch where the bow has logged that the anchor is on the ground: at the hawse of that moment.
    pub(super) async fn anchor_down(&mut self, now: i64) {
        let Some(logged_ms) = self.known.on_the_bottom_ms else {
            return;
        };
        let at_ms = self.desk.watch_ms(logged_ms);
        let begun = self.on.begun.as_ref().map(|(_, at_ms, _)| *at_ms);
        if begun
            .max(self.on.ended_ms)
            .is_some_and(|since| at_ms <= since)
            || at_ms > now
        {
            return;
        }
        let Some(place) = self.trail.at(at_ms, NEAR_MS) else {
            return;
        };
        let (latitude_e7, longitude_e7) = e7(place);
        let said = WatchSaid::Set {
            latitude_e7: Some(latitude_e7),
            longitude_e7: Some(longitude_e7),
            cable_cm: None,
            why: "the bow has logged that the anchor is on the ground".to_owned(),
        };
        self.put_anchor(at_ms, said, now).await;
    }

    /// Ends the watch where the bow has called the anchor aweigh: she moves from then on as she is meant to.
    pub(super) async fn anchor_up(&mut self, now: i64) {
        let at_ms = self.known.aweigh_ms.map(|at_ms| self.desk.watch_ms(at_ms));
        let begun = self.on.begun.as_ref().map(|(_, at_ms, _)| *at_ms);
        let (Some(at_ms), Some(begun)) = (at_ms, begun) else {
            return;
        };
        if at_ms <= begun || at_ms > now {
            return;
        }
        let said = WatchSaid::End {
            why: "the bow has called the anchor aweigh".to_owned(),
        };
        self.put_anchor(at_ms, said, now).await;
    }

    async fn put_anchor(&mut self, at_ms: i64, said: WatchSaid, now: i64) {
        let body = Body::Watch(WatchBody { at_ms, said });
        match self.fleet.author(None, body, now_ms()).await {
            Ok(_) => self.look(now).await,
            Err(error) => {
                tracing::error!(%error, "what the bow logged of the anchor is not on record");
            }
        }
    }
}
