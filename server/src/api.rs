//! The HTTP interface, version 1.

pub mod crew;
pub mod error;
pub mod files;
pub mod log;
pub mod photo_parts;
pub mod photos;
pub mod reckon;
pub mod routes;
pub mod session;
pub mod sync;

use crate::anchor_watch;
use crate::enrol;
use crate::live;
use crate::router::App;
use axum::extract::ConnectInfo;
use axum::http::StatusCode;
use error::ApiError;
use journal::address::{self, Json, Text};
use journal::auth_messages::{EnrolAnswer, EnrolRequest, ServerCard};
use journal::server_trouble::ServerTrouble;
use routes::{OpenCall, Reply, Routes};
use std::net::SocketAddr;

/// Adds what changes something, and what is read in another form than JSON, to the routes.
pub fn add(routes: Routes) -> Routes {
    routes
        .open(&address::SERVER, server)
        .open(&address::ENROL, enrol)
        .open(&address::CHALLENGE, session::challenge)
        .open(&address::SIGN_IN, session::begin)
        .on(&address::ACT_CHALLENGE, session::act_challenge)
        .on(&address::SESSION, session::who)
        .on(&address::SIGN_OUT, session::end)
        .on(&address::SYNC_HAVE, sync::have)
        .on(&address::SYNC_PUSH, sync::push)
        .on(&address::SYNC_PULL, sync::pull)
        .on(&address::PHOTO, photos::get)
        .on(&address::PHOTO_PUT, photos::put)
        .on(&address::PHOTO_PART, photo_parts::put)
        .on(&address::PHOTOS_LACKING, photo_parts::lacking)
        .on(&address::RECKON, reckon::reckon)
        .on(&address::CREW_PERSON, crew::person)
        .on(&address::CREW_CODE, crew::code)
        .on(&address::CREW_DOUBT, crew::doubt)
        .on(&address::CREW_WITHDRAW, crew::withdraw)
        .on(&address::CREW_SHIP, crew::ship)
        .on(&address::VESSEL_RECORDS, files::vessel_records)
        .on(&address::RUN_RECORDS, files::run_records)
        .on(&address::RUN_TABLE, files::run_table)
        .on(&address::VESSEL_TABLE, files::vessel_table)
        .on(&address::GEAR_TABLE, files::gear_table)
        .on(&address::WATCH_TABLE, anchor_watch::live::table)
        .on(&address::WATCH_TRY, anchor_watch::live::trial)
        .on(&address::LIMITS_TABLE, files::limits_table)
        .on(&address::LOG_HEAD, log::head)
        .on(&address::LOG_CONSISTENCY, log::consistency)
        .on(&address::LOG_INCLUSION, log::inclusion)
        .on(&address::LOG_SEEN, log::seen)
}

/// Returns the streams of the live board and of the anchor watch. They stand apart: each is neither compressed nor ended by a time limit.
pub fn streams() -> Routes {
    Routes::default()
        .on(&address::LIVE, live::live)
        .on(&address::WATCH_LIVE, anchor_watch::live::live)
}

/// Returns what says that the server is well.
pub fn health_routes() -> Routes {
    Routes::default().open(&address::HEALTH, health)
}

/// Says whose server this is.
async fn server(app: App, _: OpenCall<()>) -> Result<Reply<Json<ServerCard>>, ApiError> {
    Reply::json(&enrol::server_card(&app.fleet, app.is_ashore).await?)
}

/// Enrols a person on a device.
async fn enrol(
    app: App,
    call: OpenCall<EnrolRequest>,
) -> Result<Reply<Json<EnrolAnswer>>, ApiError> {
    let from = call.parts.extensions.get::<ConnectInfo<SocketAddr>>();
    let from = from.map(|ConnectInfo(from)| from.ip());
    let answer = enrol::enrol(&app.fleet, &app.enroller, app.is_ashore, &call.body, from).await?;
    Reply::json(&answer)
}

/// Says that the server is well, or what is wrong with it; nothing is written for that.
async fn health(app: App, _: OpenCall<()>) -> Result<Reply<Text>, ApiError> {
    let read = app.fleet.store().has_note("").await;
    read.map_err(crate::fleet::FleetError::from)?;
    let troubles = app.fleet.wellbeing().troubles();
    let unwritable = |trouble: &&ServerTrouble| matches!(trouble, ServerTrouble::Unwritable { .. });
    if let Some(trouble) = troubles.iter().find(unwritable) {
        let status = StatusCode::INSUFFICIENT_STORAGE;
        return Err(ApiError::with(status, format!("{trouble}\n")));
    }
    let mut text = "well\n".to_owned();
    for trouble in troubles {
        text = format!("{text}but {trouble}\n");
    }
    Ok(Reply::<Text>::text(text))
}
