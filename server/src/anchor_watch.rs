//! The anchor watch aboard: sentences in, alarms on record, a page each second.
//!
//! One task keeps it ([`keep`]). What it says is first shown and then put on record by the ship's own key, in order; what
//! the store does not take waits and is tried again. After a start the watch goes on from what was kept of it
//! beside the records, where that is not old, and else begins anew over the anchor that is on record; alarms on record stand until it
//! has looked long enough to take them back.

mod drift;
pub mod horn;
mod keeper;
mod known;
pub mod live;
pub mod night;
mod page;
mod plot;
mod series;
mod trail;

use crate::fleet::Fleet;
use crate::instruments::Instruments;
use crate::instruments::address::SourceAddress;
use horn::Ways;
use journal::watch::{InputsPage, WatchPage};
use keeper::Keeper;
use series::Series;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::watch;
use tokio::time::MissedTickBehavior;

/// How many sentences are taken at once before anything else is looked at.
const AT_ONCE: usize = 256;

/// What others see of the watch.
#[derive(Debug)]
pub struct Desk {
    instruments: Arc<Instruments>,
    series: Series,
    ways: Ways,
    page: Mutex<Arc<WatchPage>>,
    changed: watch::Sender<u64>,
}

impl Desk {
    /// Makes the desk of a ship whose instruments are heard there.
    pub fn new(data: &Path, sources: Vec<SourceAddress>, ways: Ways, now_ms: i64) -> Self {
        let page = WatchPage {
            now_ms,
            has_inputs: !sources.is_empty(),
            ..WatchPage::default()
        };
        Self {
            instruments: Arc::new(Instruments::new(sources, now_ms)),
            series: Series::in_folder(data),
            ways,
            page: Mutex::new(Arc::new(page)),
            changed: watch::Sender::new(0),
        }
    }

    /// Returns the page as it stands.
    pub fn page(&self) -> Arc<WatchPage> {
        Arc::clone(&self.page.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// Returns the page of inputs.
    pub fn inputs(&self, now_ms: i64) -> InputsPage {
        self.instruments.page(now_ms)
    }

    /// Returns the table of the minutes from a moment on.
    ///
    /// # Errors
    /// What the system says.
    pub fn table(&self, from_ms: i64) -> std::io::Result<String> {
        self.series.table(from_ms)
    }

    /// Tries every way by which alarms leave the program.
    pub async fn try_ways(&self, now_ms: i64) -> Vec<Result<String, String>> {
        horn::trial(&self.ways, now_ms).await
    }

    /// Returns the watch's time at a moment.
    pub fn watch_ms(&self, now_ms: i64) -> i64 {
        self.instruments.watch_ms(now_ms)
    }

    /// Tells of every new page.
    pub fn changes(&self) -> watch::Receiver<u64> {
        self.changed.subscribe()
    }

    fn show(&self, page: WatchPage) {
        *self.page.lock().unwrap_or_else(PoisonError::into_inner) = Arc::new(page);
        self.changed.send_modify(|count| *count += 1);
    }
}

/// Waits until the server closes.
async fn until(closing: &mut watch::Receiver<bool>) {
    // A sender that is gone means the same.
    let _ = closing.wait_for(|closing| *closing).await.map(|_| ());
}

/// Keeps the watch until the server closes. Without instruments it shows what is on record, and is blind.
pub async fn keep(fleet: Arc<Fleet>, data: std::path::PathBuf, mut closing: watch::Receiver<bool>) {
    let desk = Arc::clone(fleet.desk());
    if fleet.own_vessel().is_none() {
        return;
    }
    let mut queue = desk.instruments.listen(&closing);
    let mut changes = fleet.changes();
    let mut keeper = Keeper::open(Arc::clone(&fleet), desk, &data);
    let mut second = tokio::time::interval(Duration::from_secs(1));
    second.set_missed_tick_behavior(MissedTickBehavior::Delay);
    loop {
        tokio::select! {
            // Where every source has ended, as a replay does, nothing comes any more: its silence is said.
            Some(heard) = queue.recv() => {
                keeper.hear(&heard);
                for _ in 0..AT_ONCE {
                    let Ok(heard) = queue.try_recv() else { break };
                    keeper.hear(&heard);
                }
            }
            _ = second.tick() => keeper.second().await,
            changed = changes.changed() => {
                if changed.is_err() {
                    break;
                }
                keeper.look_again();
            }
            () = until(&mut closing) => break,
        }
    }
    keeper.put_away().await;
}
