//! Work whose code is not in the program's first file: what signs and opens keys, what talks with the ship.
//! Each kind belongs to a further file, which the offline worker has kept by the time it is wanted.

#![expect(
    clippy::unnecessary_wraps,
    reason = "the macro adds the other outcome: that the file could not be had"
)]

use crate::client::Client;
use crate::http::{HttpError, Reply};
use crate::sync::SyncError;
use crate::{geolocation, http, light, log, photo, sync, tabs, voice};
use journal::board::BoardNews;
use journal::port::StoreError;
use journal::watch::WatchPage;
use journal::{Board, RunId};
use std::pin::Pin;
use std::rc::Rc;
use ui::NotHere;
use ui::port::{KeyCommand, MediaCommand, RecordCommand};
use wasm_split_helpers::wasm_split;

/// Work that is under way once it is awaited.
type Work<T> = Pin<Box<dyn Future<Output = T>>>;

/// One round of talk with the ship.
#[wasm_split(bow, fallible)]
pub fn round(client: Rc<Client>) -> Result<Work<Result<(), SyncError>>, NotHere> {
    Ok(Box::pin(async move { sync::round(&client).await }))
}

/// Shows what was found out before about the ship's roll.
#[wasm_split(bow, fallible)]
pub fn open_log(client: Rc<Client>) -> Result<Work<Result<(), StoreError>>, NotHere> {
    Ok(Box::pin(async move { log::open(&client).await }))
}

/// Asks the ship, signed in.
#[wasm_split(bow, fallible)]
pub fn send(
    method: &'static str,
    path: String,
    body: Option<Vec<u8>>,
    media_type: &'static str,
) -> Result<Work<Result<Reply, HttpError>>, NotHere> {
    Ok(Box::pin(async move {
        http::send_signed_in(method, &path, body.as_deref(), media_type).await
    }))
}

/// Reckons and keeps today's sunrise and sunset at a place.
#[wasm_split(bow, fallible)]
pub fn keep_sun_at(latitude_deg: f64, longitude_deg: f64) -> Result<(), NotHere> {
    light::keep_sun_at(latitude_deg, longitude_deg);
    Ok(())
}

/// Reads the ship's board; none where it cannot be read.
#[wasm_split(ship, fallible)]
pub fn board(text: String) -> Result<Option<Box<Board>>, NotHere> {
    Ok(journal::json::read(&text).ok())
}

/// Makes a board of news and of the one before it; none where they do not follow on it.
#[wasm_split(ship, fallible)]
pub fn news(texts: Vec<String>, before: Option<Box<Board>>) -> Result<Option<Box<Board>>, NotHere> {
    Ok(BoardNews::read(&texts, before.map(|board| *board)).map(Box::new))
}

/// Reads the anchor watch; none where it cannot be read.
#[wasm_split(ship, fallible)]
pub fn anchor_watch(text: String) -> Result<Option<Box<WatchPage>>, NotHere> {
    Ok(journal::json::read(&text).ok().map(Box::new))
}

/// Reads back or puts away a slice of what is put away.
#[wasm_split(bow, fallible)]
pub fn keep_slice(
    client: Rc<Client>,
    is_to_mark: bool,
) -> Result<Work<Result<bool, StoreError>>, NotHere> {
    Ok(Box::pin(async move { client.keep_slice(is_to_mark).await }))
}

/// Reads a run back that somebody looks at.
#[wasm_split(bow, fallible)]
pub fn look_at_run(client: Rc<Client>, run: RunId) -> Result<Work<()>, NotHere> {
    Ok(Box::pin(async move { client.look_at_run(run).await }))
}

/// Does what concerns keys, but for putting one away.
#[wasm_split(bow, fallible)]
pub fn key(client: Rc<Client>, command: KeyCommand) -> Result<Work<()>, NotHere> {
    Ok(Box::pin(async move { client.execute_key(command).await }))
}

/// Puts on record what a page asked for, with when it was asked, ms since the page was opened.
#[wasm_split(bow, fallible)]
pub fn record(
    client: Rc<Client>,
    command: RecordCommand,
    pressed_ms: f64,
) -> Result<Work<()>, NotHere> {
    Ok(Box::pin(async move {
        client.execute_record(command, pressed_ms).await;
    }))
}

/// Finds the position, takes or finds a photograph.
#[wasm_split(bow, fallible)]
pub fn media(client: Rc<Client>, command: MediaCommand) -> Result<Work<()>, NotHere> {
    Ok(Box::pin(async move {
        match command {
            MediaCommand::TakePhoto { input } => photo::take(&client, &input).await,
            MediaCommand::Speak(is_on) => voice::speak(&client, is_on).await,
            MediaCommand::FindPhoto(hash) => photo::find(&client, hash).await,
            MediaCommand::ReadText { input } => {
                photo::read_text(&client, &input).await;
            }
            MediaCommand::Fix => geolocation::ask(client.device),
            MediaCommand::Alert => tabs::alarm(),
        }
    }))
}
