//! Photographs that come from a ship in parts, over a link that is often cut: which are lacking here, how much of
//! each has come, and the next part.

use super::error::ApiError;
use super::photos::{MOST, hash_of, is_named, is_picture, note};
use crate::fleet::{Fleet, FleetError};
use crate::read_api::ReadError;
use crate::router::App;
use crate::session::Caller;
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use journal::access::Permission;
use journal::photos::{LackingPhoto, LackingQuery, PhotoProgress};
use record::VesselId;
use serde::Deserialize;

/// How many photographs are named in one answer: what a slow link sends in a day.
const MOST_NAMED: usize = 16;

/// How a part lies in its photograph.
#[derive(Debug, Clone, Copy, Deserialize)]
pub struct Part {
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
    State(app): State<App>,
    caller: Caller,
    Path(vessel): Path<String>,
    body: Bytes,
) -> Result<Json<Vec<LackingPhoto>>, ApiError> {
    let named: VesselId = vessel.parse().map_err(|_| ReadError::BadName(vessel))?;
    caller.require(Permission::Sync, named, app.fleet.own_vessel())?;
    let wanted: LackingQuery = serde_json::from_slice(&body)
        .map_err(|error| ApiError::bad(format!("the question cannot be read: {error}")))?;
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
    Ok(Json(lacking))
}

/// Takes the next part in, and the photograph with its last one. A part that does not begin where what is here ends
/// changes nothing; the answer says where to go on.
///
/// # Errors
/// [`ApiError`] if no record names the photograph, or it is too large, no JPEG, or another than its name says.
pub async fn put(
    State(app): State<App>,
    caller: Caller,
    Path(name): Path<String>,
    Query(part): Query<Part>,
    body: Bytes,
) -> Result<Json<PhotoProgress>, ApiError> {
    let hash = hash_of(&name)?;
    if part.of > MOST {
        let words = format!(
            "a photograph has at most {MOST} bytes, this one {}",
            part.of
        );
        return Err(ApiError::with(StatusCode::PAYLOAD_TOO_LARGE, words));
    }
    is_named(&app, &caller, &hash).await?;
    let store = app.fleet.store();
    let is_here = store.has_note(&note(&hash)).await;
    if is_here.map_err(FleetError::from)? {
        return Ok(Json(PhotoProgress { have: part.of }));
    }
    let mut bytes = begun(&app.fleet, &hash).await?;
    if part.from != bytes.len() {
        return Ok(Json(PhotoProgress { have: bytes.len() }));
    }
    bytes.extend_from_slice(&body);
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
        return Ok(Json(PhotoProgress { have }));
    }
    // Whole: kept as what it is, or begun anew.
    let judged = is_picture(&hash, &bytes);
    if judged.is_ok() {
        keep(note(&hash), bytes).await?;
    }
    keep(part_note(&hash), Vec::new()).await?;
    judged.map(|()| Json(PhotoProgress { have }))
}
