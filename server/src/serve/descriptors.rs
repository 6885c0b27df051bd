//! How much the program may have open at once: connections and files. The soft limit of many systems is far
//! below what they allow whoever asks.

use crate::wellbeing::Wellbeing;
use journal::server_trouble::{ServerTrouble, ServerTroubleKind};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// As many as are ever of use; some systems count each that they allow.
#[cfg(unix)]
const ENOUGH: u64 = 65_536;
/// Between looks.
const EVERY: Duration = Duration::from_secs(10);

/// Raises the limit as far as the system allows; where it cannot be, the program goes on with what it has.
pub fn raise() {
    #[cfg(unix)]
    {
        use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
        let limit = getrlimit(Resource::Nofile);
        let wanted = limit.maximum.map_or(ENOUGH, |most| most.min(ENOUGH));
        if limit.current.is_none_or(|current| current >= wanted) {
            return;
        }
        let raised = setrlimit(
            Resource::Nofile,
            Rlimit {
                current: Some(wanted),
                maximum: limit.maximum,
            },
        );
        if let Err(error) = raised {
            tracing::warn!(%error, "the number of connections and files cannot be raised");
        }
    }
}

/// Returns how many there may be; nothing where the system has no such limit.
pub fn limit() -> Option<u64> {
    #[cfg(unix)]
    {
        rustix::process::getrlimit(rustix::process::Resource::Nofile).current
    }
    #[cfg(not(unix))]
    {
        None
    }
}

/// Returns how many there are; nothing where the system does not say.
fn open() -> Option<u64> {
    let listed = std::fs::read_dir("/proc/self/fd").or_else(|_| std::fs::read_dir("/dev/fd"));
    u64::try_from(listed.ok()?.count()).ok()
}

/// Says whether so many are near the end: seven of eight.
const fn is_near(open: u64, limit: u64) -> bool {
    open >= limit - limit / 8
}

/// Looks now and then whether the end is near, until the server closes.
pub async fn watch_over(wellbeing: Arc<Wellbeing>, mut closing: watch::Receiver<bool>) {
    loop {
        match (open(), limit()) {
            (Some(open), Some(limit)) if is_near(open, limit) => {
                wellbeing.raise(ServerTrouble::Descriptors { open, limit });
            }
            _ => wellbeing.end(ServerTroubleKind::Descriptors),
        }
        tokio::select! {
            _ = closing.wait_for(|closing| *closing) => return,
            () = tokio::time::sleep(EVERY) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_end_is_near_where_an_eighth_is_left() {
        assert!(!is_near(0, 1_024) && !is_near(895, 1_024));
        assert!(is_near(896, 1_024) && is_near(1_024, 1_024) && is_near(2_000, 1_024));
        assert!(is_near(0, 0));
    }

    #[cfg(target_os = "linux")]
    #[test]
    fn what_is_open_is_counted() {
        let before = open().unwrap();
        let some: Vec<_> = (0..200)
            .map(|_| std::fs::File::open("/dev/null").unwrap())
            .collect();
        // Other tests open and close beside this one.
        assert!(open().unwrap() > before + 100, "{before}");
        drop(some);
    }
}
