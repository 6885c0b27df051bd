//! The sessions on disk, so that a restart of the server ends none.

use super::{RATE, Session};
use crate::private_file;
use crate::rate_limit::TokenBucket;
use record::{DeviceId, VesselId};
use serde::{Deserialize, Serialize};
use std::collections::HashMap;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicI64, Ordering};

/// How old what is on disk may become, ms: by so much a session seems longer unused after a restart.
const EVERY_MS: i64 = 60_000;

/// A session as it is kept. The cookie's value is not in it, only its hash.
#[derive(Debug, Serialize, Deserialize)]
struct Row {
    token: String,
    vessel: VesselId,
    device: DeviceId,
    begun_ms: i64,
    used_ms: i64,
}

/// The file of a data folder that holds the sessions.
#[derive(Debug)]
pub(super) struct SessionFile {
    path: PathBuf,
    written_ms: AtomicI64,
}

impl SessionFile {
    /// Names the file; nothing is read or made yet.
    pub fn of(data: &Path) -> Self {
        Self {
            path: data.join("sessions.json"),
            written_ms: AtomicI64::new(0),
        }
    }

    /// Reads what is kept. A file that cannot be read costs the sessions, not the start: each device signs again.
    pub fn read(&self, now: i64) -> HashMap<[u8; 32], Session> {
        let rows: Vec<Row> = match std::fs::read(&self.path) {
            Ok(text) => serde_json::from_slice(&text).unwrap_or_else(|error| {
                tracing::warn!(path = %self.path.display(), %error, "the sessions cannot be read");
                Vec::new()
            }),
            Err(error) => {
                if error.kind() != ErrorKind::NotFound {
                    tracing::warn!(path = %self.path.display(), %error, "the sessions cannot be read");
                }
                Vec::new()
            }
        };
        let session = |row: Row| {
            let token = record::hex::decode(&row.token)?.try_into().ok()?;
            let session = Session {
                vessel: row.vessel,
                device: row.device,
                begun_ms: row.begun_ms,
                used_ms: row.used_ms,
                bucket: TokenBucket::whole(RATE, now),
            };
            Some((token, session))
        };
        rows.into_iter().filter_map(session).collect()
    }

    /// Says whether what is on disk has become old.
    pub fn is_due(&self, now: i64) -> bool {
        let written = self.written_ms.load(Ordering::Relaxed);
        now.saturating_sub(written).saturating_abs() >= EVERY_MS
    }

    /// Writes the sessions down. Where that fails they are good until the server ends.
    pub fn write(&self, table: &HashMap<[u8; 32], Session>, now: i64) {
        self.written_ms.store(now, Ordering::Relaxed);
        let row = |(token, session): (&[u8; 32], &Session)| Row {
            token: record::hex::encode(token),
            vessel: session.vessel,
            device: session.device,
            begun_ms: session.begun_ms,
            used_ms: session.used_ms,
        };
        let rows: Vec<Row> = table.iter().map(row).collect();
        let written = serde_json::to_vec(&rows)
            .map_err(std::io::Error::from)
            .and_then(|text| private_file::replace(&self.path, &text));
        if let Err(error) = written {
            tracing::warn!(path = %self.path.display(), %error, "the sessions cannot be written");
        }
    }
}
