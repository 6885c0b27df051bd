//! The relay: the ship's records to the office, by the same protocol, with the ship as the client.
//!
//! Made for a satellite link: one small question tells what the office lacks, pages travel oldest first
//! and compressed, and whatever cuts the link costs one page at most. What the office has is asked, never
//! remembered.

use crate::clock::now_ms;
use crate::fleet::{Fleet, FleetError};
use flate2::Compression;
use flate2::write::GzEncoder;
use record::sync::{Have, HaveReply, MAX_PAGE_BYTES, MAX_PAGE_RECORDS, PushReply};
use record::{Refusal, VesselId};
use std::io::Write as _;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// Between rounds while all is well.
const CALM: Duration = Duration::from_secs(15);
/// The wait after a first failure; each further one doubles it. A link that was cut is often back soon.
const FIRST_WAIT: Duration = Duration::from_millis(500);
/// Longest wait after failures.
const LONGEST: Duration = Duration::from_mins(5);
/// How long one request may take: a page of 256 kB at 16 kbit/s, and some.
const PATIENCE: Duration = Duration::from_mins(3);

/// Why a round did not come to its end.
#[derive(Debug, thiserror::Error)]
pub enum RelayError {
    /// The office does not answer, or refuses.
    #[error("the office does not take records: {0}")]
    Office(#[from] Box<ureq::Error>),
    /// The office's answer cannot be read.
    #[error("the office's answer cannot be read: {0}")]
    Answer(#[from] Refusal),
    /// The ship's own store.
    #[error(transparent)]
    Fleet(#[from] FleetError),
    /// The office takes nothing of a page.
    #[error("the office refused a page: {0}")]
    Refused(String),
    /// Packing failed.
    #[error("a page could not be packed")]
    Pack(#[source] std::io::Error),
    /// The task that asked has died.
    #[error("the request was given up")]
    GivenUp(#[from] tokio::task::JoinError),
}

/// Relays for as long as the server lives.
pub async fn keep_going(fleet: Arc<Fleet>, office: String, mut closing: watch::Receiver<bool>) {
    let Some(vessel) = fleet.own_vessel() else {
        return;
    };
    let agent: ureq::Agent = ureq::Agent::config_builder()
        .timeout_global(Some(PATIENCE))
        .build()
        .into();
    let mut changes = fleet.changes();
    let mut failures = 0_u32;
    loop {
        changes.mark_unchanged();
        match round(&fleet, &agent, &office, vessel).await {
            Ok(0) => failures = 0,
            Ok(sent) => {
                failures = 0;
                tracing::info!(sent, "records relayed to the office");
            }
            Err(error) => {
                failures = failures.saturating_add(1);
                tracing::warn!(%error, failures, "relay to the office failed");
            }
        }
        let pause = match failures.checked_sub(1) {
            None => CALM,
            Some(more) => FIRST_WAIT.saturating_mul(1 << more.min(10)).min(LONGEST),
        };
        tokio::select! {
            _ = closing.wait_for(|closing| *closing) => return,
            () = tokio::time::sleep(pause) => {}
            changed = changes.changed(), if failures == 0 => if changed.is_err() { return },
        }
    }
}

async fn post(
    agent: &ureq::Agent,
    url: String,
    body: Vec<u8>,
    packed: bool,
) -> Result<Vec<u8>, RelayError> {
    let agent = agent.clone();
    tokio::task::spawn_blocking(move || {
        let mut request = agent
            .post(&url)
            .header("content-type", "application/cbor-seq");
        if packed {
            request = request.header("content-encoding", "gzip");
        }
        request
            .send(&body[..])
            .and_then(|mut response| response.body_mut().read_to_vec())
            .map_err(|error| RelayError::Office(Box::new(error)))
    })
    .await?
}

/// Sends all that the office lacks; returns how many records it stored.
///
/// # Errors
/// [`RelayError`] if it did not come to its end; what was sent before stays sent.
pub async fn round(
    fleet: &Fleet,
    agent: &ureq::Agent,
    office: &str,
    vessel: VesselId,
) -> Result<u64, RelayError> {
    let mut stored = 0;
    loop {
        let vector = fleet
            .store()
            .vector(vessel)
            .await
            .map_err(FleetError::from)?;
        let have = Have { vessel, vector }.encode();
        let url = format!("{}/api/v1/sync/have", office.trim_end_matches('/'));
        let reply = HaveReply::decode(&post(agent, url, have, false).await?)?;
        let rows = fleet
            .store()
            .lacking(vessel, &reply.vector, MAX_PAGE_BYTES, MAX_PAGE_RECORDS)
            .await
            .map_err(FleetError::from)?;
        if rows.is_empty() {
            return Ok(stored);
        }
        let mut packer = GzEncoder::new(Vec::new(), Compression::best());
        for row in &rows {
            packer.write_all(&row.bytes).map_err(RelayError::Pack)?;
        }
        let page = packer.finish().map_err(RelayError::Pack)?;
        let url = format!(
            "{}/api/v1/sync/push?time={}",
            office.trim_end_matches('/'),
            now_ms()
        );
        let reply = PushReply::decode(&post(agent, url, page, true).await?)?;
        stored += reply.stored;
        if reply.stored == 0 {
            // Nothing moved: what the office says it lacks it also refuses. Try again later.
            let why = reply
                .rejected
                .first()
                .map_or("it said nothing", |first| &first.reason);
            return Err(RelayError::Refused(why.to_owned()));
        }
    }
}
