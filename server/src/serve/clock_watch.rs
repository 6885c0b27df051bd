//! Whether the system's clock is behind what is on record: said for as long as it is.

use crate::clock::behind_ms;
use crate::wellbeing::Wellbeing;
use journal::board::CLOCK_TOLERANCE_MS;
use journal::server_trouble::{ServerTrouble, ServerTroubleKind};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// Between looks.
const EVERY: Duration = Duration::from_secs(10);

/// Looks now and then until the server closes.
pub async fn watch_over(wellbeing: Arc<Wellbeing>, mut closing: watch::Receiver<bool>) {
    loop {
        match behind_ms() {
            behind_ms if behind_ms > CLOCK_TOLERANCE_MS => {
                wellbeing.raise(ServerTrouble::ClockBehind { behind_ms });
            }
            _ => wellbeing.end(ServerTroubleKind::ClockBehind),
        }
        tokio::select! {
            _ = closing.wait_for(|closing| *closing) => return,
            () = tokio::time::sleep(EVERY) => {}
        }
    }
}
