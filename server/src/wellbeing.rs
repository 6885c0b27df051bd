//! What is wrong with the server while it goes on serving: said once in the log, and for as long as it lasts
//! in the health and on the bridge.

use journal::server_trouble::{ServerTrouble, ServerTroubleKind};
use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use tokio::sync::watch;

/// The troubles that last.
#[derive(Debug)]
pub struct Wellbeing {
    troubles: Mutex<BTreeMap<ServerTroubleKind, ServerTrouble>>,
    changed: watch::Sender<u64>,
}

impl Wellbeing {
    /// Makes one without troubles; `changed` counts on whenever a board looks another way.
    pub fn new(changed: watch::Sender<u64>) -> Self {
        let troubles = Mutex::default();
        Self { troubles, changed }
    }

    fn table(&self) -> MutexGuard<'_, BTreeMap<ServerTroubleKind, ServerTrouble>> {
        self.troubles.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Says that something is wrong from now on. Said again, only its figures may have changed.
    pub fn raise(&self, trouble: ServerTrouble) {
        let before = self.table().insert(trouble.kind(), trouble);
        if before.is_none() {
            tracing::error!("{trouble}");
            self.changed.send_modify(|count| *count += 1);
        }
    }

    /// Says that it is over.
    pub fn end(&self, kind: ServerTroubleKind) {
        if let Some(trouble) = self.table().remove(&kind) {
            tracing::info!(?trouble, "over: the server is well again in this");
            self.changed.send_modify(|count| *count += 1);
        }
    }

    /// Returns what is wrong now.
    pub fn troubles(&self) -> Vec<ServerTrouble> {
        self.table().values().copied().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trouble_stands_until_it_is_over_and_is_news_twice() {
        let changed = watch::Sender::new(0);
        let wellbeing = Wellbeing::new(changed.clone());
        let open = |open| ServerTrouble::Descriptors { open, limit: 100 };
        wellbeing.raise(open(90));
        wellbeing.raise(open(91));
        assert_eq!(wellbeing.troubles(), [open(91)]);
        assert_eq!(*changed.borrow(), 1);
        wellbeing.end(ServerTroubleKind::Descriptors);
        wellbeing.end(ServerTroubleKind::Descriptors);
        assert_eq!(wellbeing.troubles(), []);
        assert_eq!(*changed.borrow(), 2);
    }
}
