//! Photographs and voice notes by their SHA-256. Only one that a record here names is taken in, and only if it has that
//! hash.

mod besides;

use super::error::ApiError;
use super::routes::{Call, Reply};
use crate::fleet::FleetError;
use crate::router::App;
use axum::body::Bytes;
use axum::http::{StatusCode, header};
use besides::says_more;
use journal::access::Permission;
use journal::address::{Jpeg, Nothing};
use journal::voice;
use record::VesselId;
use sha2::{Digest, Sha256};

/// A photograph, bytes at most: phones send far less.
pub const MOST: usize = 1_000_000;
/// What a WAVE file calls itself (RFC 2361).
const WAVE: &str = "audio/vnd.wave";
/// How a JPEG file begins (ITU-T T.81, annex B: start of image, then a marker).
const JPEG_START: [u8; 3] = [0xff, 0xd8, 0xff];

/// Reads a photograph's name.
///
/// # Errors
/// [`ApiError`] if it is no SHA-256 in hexadecimal digits.
pub fn hash_of(name: &str) -> Result<[u8; 32], ApiError> {
    record::hex::decode(name)
        .and_then(|bytes| bytes.try_into().ok())
        .ok_or_else(|| ApiError::bad(format!("{name:?} is no SHA-256 in hexadecimal digits")))
}

/// Returns under which name the store keeps a photograph.
pub fn note(hash: &[u8; 32]) -> String {
    format!("photo/{}", record::hex::encode(hash))
}

/// Whether bytes are the photograph, or the voice note, of that name.
///
/// # Errors
/// [`ApiError`] if they are neither of the files that are taken in, or others than the name says.
pub fn is_picture(hash: &[u8; 32], bytes: &[u8]) -> Result<(), ApiError> {
    let is_wave = voice::is_wave(bytes);
    if is_wave && !voice::is_voice_note(bytes) {
        return Err(ApiError::with(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            "a voice note is a WAVE file of one channel, 8,000 samples of 16 bits a second, half a minute at most, and \
             nothing else in it",
        ));
    }
    if !is_wave && !bytes.starts_with(&JPEG_START) {
        return Err(ApiError::with(
            StatusCode::UNSUPPORTED_MEDIA_TYPE,
            "a photograph is a JPEG file, a voice note a WAVE file",
        ));
    }
    if <[u8; 32]>::from(Sha256::digest(bytes)) != *hash {
        return Err(ApiError::bad(
            "the picture is not the one that its name says",
        ));
    }
    if !is_wave && says_more(bytes) {
        return Err(says_too_much());
    }
    Ok(())
}

fn says_too_much() -> ApiError {
    ApiError::with(
        StatusCode::UNSUPPORTED_MEDIA_TYPE,
        "the file says where, when or with what the photograph was taken: take it with the program, which keeps \
         nothing but the picture",
    )
}

/// Checks that a record of a vessel names a photograph.
///
/// # Errors
/// [`ApiError`] if none does.
pub async fn is_named(app: &App, vessel: VesselId, hash: &[u8; 32]) -> Result<(), ApiError> {
    let named = app.fleet.with(vessel, |ledger| ledger.names_photo(hash));
    if named.await? {
        return Ok(());
    }
    Err(ApiError::with(
        StatusCode::NOT_FOUND,
        "no record here names this photograph",
    ))
}

/// Takes a photograph in; one that is here already is left as it is.
///
/// # Errors
/// [`ApiError`] if no record names it, or it is too large, no JPEG, or another picture than its name says.
pub async fn put(app: App, call: Call<1, Bytes>) -> Result<Reply<Nothing>, ApiError> {
    let (hash, body) = (hash_of(&call.path[0])?, call.body);
    if body.len() > MOST {
        let words = format!(
            "a photograph has at most {MOST} bytes, this one {}",
            body.len()
        );
        return Err(ApiError::with(StatusCode::PAYLOAD_TOO_LARGE, words));
    }
    is_picture(&hash, &body)?;
    is_named(&app, call.vessel, &hash).await?;
    let store = app.fleet.store();
    if store
        .note(&note(&hash))
        .await
        .map_err(FleetError::from)?
        .is_none()
    {
        store
            .set_note(&note(&hash), &body)
            .await
            .map_err(FleetError::from)?;
    }
    Ok(Reply::done())
}

/// Gives a photograph out.
///
/// # Errors
/// [`ApiError`] if it is not here.
pub async fn get(app: App, call: Call<1, ()>) -> Result<Reply<Jpeg>, ApiError> {
    let (hash, caller) = (hash_of(&call.path[0])?, &call.caller);
    let own_vessel = app.fleet.own_vessel();
    let named = app.fleet.each(|ledger| {
        let may = caller.require(Permission::Read, ledger.vessel(), own_vessel);
        ledger.names_photo(&hash).then_some(may)
    });
    // Several vessels may name one picture: it is shown to whoever may read one of them.
    let mut refused = None;
    for may in named.await.into_iter().flatten() {
        match may {
            Ok(()) => return give(&app, &hash).await,
            Err(forbidden) => refused = Some(ApiError::from(forbidden)),
        }
    }
    Err(refused.unwrap_or_else(not_here))
}

fn not_here() -> ApiError {
    ApiError::with(StatusCode::NOT_FOUND, "this photograph is not here yet")
}

async fn give(app: &App, hash: &[u8; 32]) -> Result<Reply<Jpeg>, ApiError> {
    let store = app.fleet.store();
    let bytes = store.note(&note(hash)).await.map_err(FleetError::from)?;
    let bytes = bytes.ok_or_else(not_here)?;
    // One that came before this was asked of it.
    let is_wave = voice::is_wave(&bytes);
    if !is_wave && says_more(&bytes) {
        return Err(says_too_much());
    }
    let photo = if is_wave {
        Reply::photo(bytes).with(header::CONTENT_TYPE, WAVE)
    } else {
        Reply::photo(bytes)
    };
    // Its name is its content: it never changes.
    Ok(photo
        .with(
            header::CACHE_CONTROL,
            "private, max-age=31536000, immutable",
        )
        .with(header::CONTENT_SECURITY_POLICY, "default-src 'none'"))
}
