//! Photographs to the office: after the records, oldest first, in parts, and only what the office lacks.

use super::{OfficeLink, RelayError, Sending};
use crate::api::photos;
use crate::fleet::{Fleet, FleetError};
use journal::address;
use journal::photos::{LackingPhoto, LackingQuery, PhotoProgress};
use record::VesselId;
use serde::Serialize;
use serde::de::DeserializeOwned;
use tokio::sync::watch;

/// A part as it travels, bytes: half a minute at 16 kbit/s. A record that comes meanwhile waits no longer.
const PART: usize = 64 * 1024;

/// Where photographs go, and what tells that records wait.
#[derive(Debug)]
pub struct PhotoRelay<'a> {
    /// The ship's own.
    pub fleet: &'a Fleet,
    /// The link to the office.
    pub link: &'a OfficeLink,
    /// The ship.
    pub vessel: VesselId,
    /// Changes when a record has come.
    pub news: &'a watch::Receiver<u64>,
}

/// Sends photographs until the office lacks none that is here, or a record has come; returns how many are whole now.
///
/// # Errors
/// [`RelayError`] if it did not come to its end; what was sent before stays sent.
pub async fn send(way: &PhotoRelay<'_>) -> Result<u64, RelayError> {
    let names_any = way
        .fleet
        .with(way.vessel, |ledger| !ledger.photos().is_empty());
    if !names_any.await? {
        return Ok(0);
    }
    let mut sent = 0;
    let mut wanted = LackingQuery::default();
    loop {
        let url = address::PHOTOS_LACKING.at([&way.vessel]);
        let lacking: Vec<LackingPhoto> = way.ask(Sending::to(&url, json(&wanted)?)).await?;
        let Some(last) = lacking.last() else {
            return Ok(sent);
        };
        wanted.after = Some(last.photo.clone());
        for one in &lacking {
            match way.photo(one).await {
                Ok(true) => sent += 1,
                Ok(false) => {}
                // The office will not have this one: the others go all the same.
                Err(RelayError::Office(error)) if is_refusal(&error) => {
                    tracing::warn!(photo = one.photo, %error, "the office refused a photograph");
                }
                Err(error) => return Err(error),
            }
            if way.is_called() {
                return Ok(sent);
            }
        }
    }
}

fn json<T: Serialize>(value: &T) -> Result<Vec<u8>, RelayError> {
    serde_json::to_vec(value).map_err(RelayError::Photos)
}

/// Whether the office has understood and says no.
fn is_refusal(error: &ureq::Error) -> bool {
    matches!(error, ureq::Error::StatusCode(400 | 404 | 413 | 415))
}

impl PhotoRelay<'_> {
    /// A record waits: it goes first.
    fn is_called(&self) -> bool {
        self.news.has_changed().unwrap_or(true)
    }

    async fn ask<T: DeserializeOwned>(&self, sending: Sending) -> Result<T, RelayError> {
        let answer = self.link.send(self.fleet, sending).await?;
        serde_json::from_slice(&answer).map_err(RelayError::Photos)
    }

    /// Sends what is lacking of a photograph; returns whether the office has it now.
    async fn photo(&self, lacking: &LackingPhoto) -> Result<bool, RelayError> {
        let store = self.fleet.store();
        let name = format!("photo/{}", lacking.photo);
        let Some(bytes) = store.note(&name).await.map_err(FleetError::from)? else {
            return Ok(false); // no phone has brought it yet
        };
        if bytes.len() > photos::MOST {
            return Ok(false);
        }
        let mut have = lacking.have.min(bytes.len());
        while have < bytes.len() {
            if self.is_called() {
                return Ok(false);
            }
            let end = bytes.len().min(have + PART);
            let url = address::PHOTO_PART.at([&lacking.photo]);
            let url = url.with("from", have).with("of", bytes.len());
            let part = Sending::to(&url, bytes[have..end].to_vec());
            let answer: PhotoProgress = self.ask(part).await?;
            if answer.have <= have {
                return Ok(false); // begun anew there, or another ship sends the same one
            }
            have = answer.have.min(bytes.len());
        }
        Ok(true)
    }
}
