//! Photographs that come from a ship in parts, over a link that is often cut: which are lacking here, how much of
//! each has come, and the next part.

use super::error::ApiError;
use super::photos::{MOST, hash_of, is_named, is_picture, note};
use super::routes::{Call, Reply};
use crate::fleet::{Fleet, FleetError};
use crate::router::App;
use axum::body::Bytes;
use axum::http::StatusCode;
use journal::address::Json;
use journal::photos::{LackingPhoto, LackingQuery, PhotoProgress};
use serde::Deserialize;

/// How many photographs are named in one answer: what a slow link sends in a day.
const MOST_NAMED: usize = 16;

/// How a part lies in its photograph.
#[derive(Debug, Clone, Copy, Deserialize)]
pub struct PartQuery {
    /// How many bytes come before it.
    from: usize,
    /// How many bytes the photograph has.
    of: usize,
}

fn part_note(hash: &[u8; 32]) -> String {
    format!("photo-part/{}", record::hex::encode(hash))
}

async fn begun(fleet: &Fleet, hash: &[u8; 32]) -> Result<Vec<u8>, FleetError> {
    let found = fleet.store().note(&part_note(hash)).await?;
    Ok(found.unwrap_or_default())
}

/// Names photographs of a vessel that are lacking here, in the order in which records named them.
///
/// # Errors
/// [`ApiError`] if the caller may not, the vessel is not here, or the store fails.
pub async fn lacking(
    app: App,
    call: Call<1, LackingQuery>,
) -> Result<Reply<Json<Vec<LackingPhoto>>>, ApiError> {
    let (named, wanted) = (call.vessel, call.body);
    let after = wanted.after.as_deref().map(hash_of).transpose()?;
    let mut photos = app
        .fleet
        .with(named, |ledger| ledger.photos().to_vec())
        .await?;
    if let Some(place) = photos.iter().position(|photo| Some(*photo) == after) {
        photos.drain(..=place);
    }
    let mut lacking = Vec::new();
    for hash in photos {
        let is_here = app.fleet.store().has_note(&note(&hash)).await;
        if is_here.map_err(FleetError::from)? {
            continue;
        }
        lacking.push(LackingPhoto {
            photo: record::hex::encode(&hash),
            have: begun(&app.fleet, &hash).await?.len(),
        });
        if lacking.len() == MOST_NAMED {
            break;
        }
    }
    Reply::json(&lacking)
}

/// Takes the next part in, and the photograph with its last one. A part that does not begin where what is here ends
/// changes nothing; the answer says where to go on.
///
/// # Errors
/// [`ApiError`] if no record names the photograph, or it is too large, no JPEG, or another than its name says.
pub async fn put(app: App, call: Call<1, Bytes>) -> Result<Reply<Json<PhotoProgress>>, ApiError> {
    let part: PartQuery = call.query()?;
    let hash = hash_of(&call.path[0])?;
    let answer = |have: usize| Reply::json(&PhotoProgress { have });
    if part.of > MOST {
        let words = format!(
            "a photograph has at most {MOST} bytes, this one {}",
            part.of
        );
        return Err(ApiError::with(StatusCode::PAYLOAD_TOO_LARGE, words));
    }
    is_named(&app, call.vessel, &hash).await?;
    let store = app.fleet.store();
    let is_here = store.has_note(&note(&hash)).await;
    if is_here.map_err(FleetError::from)? {
        return answer(part.of);
    }
    let mut bytes = begun(&app.fleet, &hash).await?;
    if part.from != bytes.len() {
        return answer(bytes.len());
    }
    bytes.extend_from_slice(&call.body);
    let have = bytes.len();
    if have > part.of {
        return Err(ApiError::bad(format!(
            "{have} bytes are more than the {} announced",
            part.of
        )));
    }
    let keep = |name: String, bytes: Vec<u8>| async move {
        let kept = store.set_note(&name, &bytes).await;
        kept.map_err(|error| ApiError::from(FleetError::from(error)))
    };
    if have < part.of {
        keep(part_note(&hash), bytes).await?;
        return answer(have);
    }
    // Whole: kept as what it is, or begun anew.
    let judged = is_picture(&hash, &bytes);
    if judged.is_ok() {
        keep(note(&hash), bytes).await?;
    }
    keep(part_note(&hash), Vec::new()).await?;
    judged.and_then(|()| answer(have))
}
