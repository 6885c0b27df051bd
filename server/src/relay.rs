//! The relay: the ship's records to the office, by the same protocol, with the ship as the client.
//!
//! Made for a satellite link: one small question tells what the office lacks, pages travel oldest first
//! and compressed, and whatever cuts the link costs one page at most. What the office has is asked, never
//! remembered. Photographs come after the records.

mod photos;

use crate::api::error::told;
use crate::clock::now_ms;
use crate::fleet::{Fleet, FleetError};
use flate2::Compression;
use flate2::write::GzEncoder;
use journal::address::{self, Form, Json, Url};
use journal::auth_messages::{Challenge, ChallengeAnswer, session_claim};
use journal::log::{HeadAnswer, Showing};
use record::sync::{Have, HaveReply, MAX_PAGE_BYTES, MAX_PAGE_RECORDS, PushReply};
use record::{Refusal, VesselId};
use rustls_pki_types::CertificateDer;
use std::io::Write as _;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::watch;
use ureq::tls::{Certificate, RootCerts, TlsConfig};

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
    #[error("the office does not take records")]
    Office(#[from] Box<ureq::Error>),
    /// The office's answer cannot be read.
    #[error("the office's answer cannot be read")]
    Answer(#[from] Refusal),
    /// The ship's own store.
    #[error(transparent)]
    Fleet(#[from] FleetError),
    /// The office takes nothing of a page.
    #[error("the office refused a page: {0}")]
    Refused(String),
    /// The office's challenge cannot be read.
    #[error("the office's challenge cannot be read")]
    SignIn(#[source] serde_json::Error),
    /// The office took the ship's answer and opened no session.
    #[error("the office opened no session")]
    NoSession,
    /// A question about photographs, or the answer.
    #[error("the office's answer about photographs cannot be read")]
    Photos(#[source] serde_json::Error),
    /// Packing failed.
    #[error("a page could not be packed")]
    Pack(#[source] std::io::Error),
    /// The office's answer about the log's head cannot be read.
    #[error("the office's answer about the log cannot be read")]
    Log(#[source] serde_json::Error),
    /// The task that asked has died.
    #[error("the request was given up")]
    GivenUp(#[from] tokio::task::JoinError),
}

impl RelayError {
    /// Says whether the same may go through at a later try; where not, a person has to do something first, aboard
    /// or ashore. The relay tries on all the same, seldom, and says so in its log.
    pub fn is_worth_retry(&self) -> bool {
        match self {
            // The office has understood and says no; too much at once, or too slow, is another matter.
            Self::Office(error) => !matches!(
                **error,
                ureq::Error::StatusCode(status)
                    if (400..500).contains(&status) && !matches!(status, 401 | 408 | 429)
            ),
            Self::Fleet(error) => error.is_worth_retry(),
            Self::Answer(_)
            | Self::Refused(_)
            | Self::SignIn(_)
            | Self::NoSession
            | Self::Photos(_)
            | Self::Pack(_)
            | Self::Log(_)
            | Self::GivenUp(_) => true,
        }
    }
}

/// Relays for as long as the server lives.
pub async fn run_loop(fleet: Arc<Fleet>, link: OfficeLink, mut closing: watch::Receiver<bool>) {
    let Some(vessel) = fleet.own_vessel() else {
        return;
    };
    let mut changes = fleet.changes();
    let mut failures = 0_u32;
    let mut shown = None;
    loop {
        changes.mark_unchanged();
        let done = match round(&fleet, &link, vessel).await {
            Ok(sent) => {
                failures = 0;
                if sent > 0 {
                    tracing::info!(sent, "records relayed to the office");
                }
                let way = photos::PhotoRelay {
                    fleet: &fleet,
                    link: &link,
                    vessel,
                    news: &changes,
                };
                // The log's head vouches for the records; photographs are vouched for by the records.
                match show_head(&fleet, &link, vessel, &mut shown).await {
                    Ok(()) => photos::send(&way).await,
                    Err(error) => Err(error),
                }
            }
            Err(error) => Err(error),
        };
        match done {
            Ok(0) => {}
            Ok(sent) => tracing::info!(sent, "photographs relayed to the office"),
            Err(error) => {
                failures = failures.saturating_add(1);
                let lasts = !error.is_worth_retry();
                let error = told(&error);
                tracing::warn!(error, failures, lasts, "relay to the office failed");
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

/// The link to the office: its address, and the session there.
#[derive(Debug)]
pub struct OfficeLink {
    agent: ureq::Agent,
    office: String,
    cookie: Mutex<Option<String>>,
}

impl OfficeLink {
    /// Makes a link; nothing travels yet. Over HTTPS the office must show a certificate of one of `trusted`;
    /// of one that browsers trust, if there are none.
    pub fn to(office: &str, trusted: &[CertificateDer<'_>]) -> Self {
        let mut config = ureq::Agent::config_builder().timeout_global(Some(PATIENCE));
        if !trusted.is_empty() {
            let trusted: Vec<_> = trusted
                .iter()
                .map(|der| Certificate::from_der(der).to_owned())
                .collect();
            let roots = RootCerts::new_with_certs(&trusted);
            config = config.tls_config(TlsConfig::builder().root_certs(roots).build());
        }
        Self {
            agent: config.build().into(),
            office: office.trim_end_matches('/').to_owned(),
            cookie: Mutex::new(None),
        }
    }

    /// Sends a body to `path` below the interface, signing in first where there is no session.
    ///
    /// # Errors
    /// [`RelayError`] if the office does not answer or refuses.
    pub async fn send(&self, fleet: &Fleet, sending: Sending) -> Result<Vec<u8>, RelayError> {
        let cookie = self.cookie();
        let cookie = match cookie {
            Some(cookie) => cookie,
            None => self.sign_in(fleet).await?,
        };
        match self.call(sending.clone(), Some(cookie)).await {
            // The office was started again, or the session has ended.
            Err(RelayError::Office(error)) if matches!(*error, ureq::Error::StatusCode(401)) => {
                let cookie = self.sign_in(fleet).await?;
                self.call(sending, Some(cookie)).await
            }
            done => done,
        }
        .map(|(bytes, _)| bytes)
    }

    fn cookie(&self) -> Option<String> {
        self.cookie
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// Shows the office who the ship is: her authority signs the office's challenge.
    async fn sign_in(&self, fleet: &Fleet) -> Result<String, RelayError> {
        let own = fleet.own().ok_or(FleetError::NoShip)?;
        let ask = Sending::to(&address::CHALLENGE.at([]), b"{}".to_vec());
        let (asked, _) = self.call(ask, None).await?;
        let asked: Challenge = serde_json::from_slice(&asked).map_err(RelayError::SignIn)?;
        let origin = origin_of(&self.office);
        let text = session_claim(&origin, &asked.server, &asked.challenge);
        let answer = ChallengeAnswer {
            device: own.device(),
            challenge: asked.challenge,
            origin,
            signature: record::hex::encode(&own.sign(text.as_bytes())),
        };
        let answer = serde_json::to_vec(&answer).map_err(RelayError::SignIn)?;
        let answer = Sending::to(&address::SIGN_IN.at([]), answer);
        let (_, cookie) = self.call(answer, None).await?;
        let cookie = cookie.ok_or(RelayError::NoSession)?;
        *self.cookie.lock().unwrap_or_else(PoisonError::into_inner) = Some(cookie.clone());
        Ok(cookie)
    }

    async fn call(
        &self,
        sending: Sending,
        cookie: Option<String>,
    ) -> Result<(Vec<u8>, Option<String>), RelayError> {
        let agent = self.agent.clone();
        let url = format!("{}{}", self.office, sending.path);
        tokio::task::spawn_blocking(move || {
            let mut request = agent.post(&url);
            request = request.header("content-type", sending.media_type);
            if sending.is_packed {
                request = request.header("content-encoding", "gzip");
            }
            if let Some(cookie) = cookie {
                request = request.header("cookie", cookie);
            }
            let mut response = request
                .send(&sending.body[..])
                .map_err(|error| RelayError::Office(Box::new(error)))?;
            let set = response.headers().get("set-cookie");
            let set = set.and_then(|value| value.to_str().ok());
            let set = set
                .and_then(|value| value.split(';').next())
                .map(str::to_owned);
            let bytes = response.body_mut().read_to_vec();
            Ok((
                bytes.map_err(|error| RelayError::Office(Box::new(error)))?,
                set,
            ))
        })
        .await?
    }
}

/// Returns scheme, host and port of an address, as a browser names them.
fn origin_of(address: &str) -> String {
    let (scheme, rest) = address.split_once("://").unwrap_or(("http", address));
    let host = rest.split('/').next().unwrap_or(rest);
    format!("{scheme}://{host}")
}

/// A request to the office.
#[derive(Debug, Clone)]
pub struct Sending {
    path: String,
    body: Vec<u8>,
    media_type: &'static str,
    is_packed: bool,
}

impl Sending {
    /// A request to an address, in the form that is sent there.
    pub fn to<Q: Form, A>(url: &Url<Q, A>, body: Vec<u8>) -> Self {
        // What needs no body is asked with an empty question.
        let media_type = if Q::MEDIA.is_empty() {
            Json::<()>::MEDIA
        } else {
            Q::MEDIA
        };
        Self {
            path: url.as_str().to_owned(),
            body,
            media_type,
            is_packed: false,
        }
    }

    /// The same, compressed.
    #[must_use]
    pub fn packed(mut self) -> Self {
        self.is_packed = true;
        self
    }
}

/// Shows the office the head of the ship's roll, so that it can hold the ship to it. Tells the ship's people
/// if the office remembers another log.
async fn show_head(
    fleet: &Fleet,
    link: &OfficeLink,
    vessel: VesselId,
    shown: &mut Option<String>,
) -> Result<(), RelayError> {
    let signed = fleet.heads().head(vessel, now_ms()).await?;
    if shown.as_deref() == Some(signed.note.as_str()) {
        return Ok(());
    }
    let mut proofs = Vec::new();
    // Asked for once: what the office wants is in the second question.
    for _ in 0..2 {
        let showing = Showing {
            note: signed.note.clone(),
            proofs,
        };
        let question = serde_json::to_vec(&showing).map_err(RelayError::Log)?;
        let sending = Sending::to(&address::LOG_SEEN.at([&vessel]), question);
        let answer = match link.send(fleet, sending).await {
            // An office of an earlier version remembers no heads.
            Err(RelayError::Office(error)) if matches!(*error, ureq::Error::StatusCode(404)) => {
                break;
            }
            answer => answer?,
        };
        match serde_json::from_slice(&answer).map_err(RelayError::Log)? {
            HeadAnswer::Agrees => break,
            HeadAnswer::Wants(sizes) => {
                let size = signed.checkpoint.head.size;
                proofs = fleet.heads().prove(vessel, &sizes, size).await?;
            }
            HeadAnswer::Stands(trouble) => {
                fleet.head_disputed(vessel, &trouble).await?;
                break;
            }
        }
    }
    *shown = Some(signed.note);
    Ok(())
}

/// Sends all that the office lacks; returns how many records it stored.
///
/// # Errors
/// [`RelayError`] if it did not come to its end; what was sent before stays sent.
pub async fn round(fleet: &Fleet, link: &OfficeLink, vessel: VesselId) -> Result<u64, RelayError> {
    let mut stored = 0;
    loop {
        let vector = fleet
            .store()
            .vector(vessel)
            .await
            .map_err(FleetError::from)?;
        let have = Have { vessel, vector }.encode();
        let have = Sending::to(&address::SYNC_HAVE.at([]), have);
        let reply = HaveReply::decode(&link.send(fleet, have).await?)?;
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
        let page = Sending::to(&address::SYNC_PUSH.at([]).with("time", now_ms()), page).packed();
        let reply = PushReply::decode(&link.send(fleet, page).await?)?;
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
