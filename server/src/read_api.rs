//! What pages and programs ask for: the same answers over HTTP and while the server draws a page.

use crate::api::error::ApiError;
use crate::clock::now_ms;
use crate::fleet::{Fleet, FleetError};
use crate::session::Caller;
use journal::access::Permission;
use journal::{RunId, VesselBody};
use journal::{board, catalogue};
use record::VesselId;
use serde::Serialize;

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// Nothing stands at this path.
    #[error("there is nothing at {0:?}")]
    NoSuchPath(String),
    /// The vessel's or run's name is none.
    #[error("{0:?} is no vessel's or run's name")]
    BadName(String),
    /// There is no such run, or its procedure is not here.
    #[error("there is no run {0} here, or its procedure has not arrived")]
    NoRun(RunId),
    /// There is no such procedure.
    #[error("there is no procedure {0:?} aboard")]
    NoProcedure(String),
    /// This server has no ship of its own.
    #[error("this server has no ship of its own: look at the office's pages")]
    NoShip,
    /// Who asks may not have the answer.
    #[error("{0}")]
    MayNot(ApiError),
    /// The records cannot be read.
    #[error(transparent)]
    Fleet(#[from] FleetError),
    /// The answer cannot be written down.
    #[error("the answer cannot be written: {0}")]
    Unwritable(#[from] serde_json::Error),
}

fn json<T: Serialize>(value: &T) -> Result<String, ReadError> {
    Ok(serde_json::to_string(value)?)
}

fn name<T: std::str::FromStr>(text: &str) -> Result<T, ReadError> {
    text.parse()
        .map_err(|_| ReadError::BadName(text.to_owned()))
}

/// Answers what stands at `path` below `/api/v1/`, as JSON.
///
/// # Errors
/// [`ReadError`] if nothing stands there.
pub async fn answer(fleet: &Fleet, caller: &Caller, path: &str) -> Result<String, ReadError> {
    let now = now_ms();
    let own_vessel = fleet.own_vessel();
    let may_read = |vessel: VesselId| {
        caller
            .require(Permission::Read, vessel, own_vessel)
            .map_err(ReadError::MayNot)
    };
    let own = || {
        let own = own_vessel.ok_or(ReadError::NoShip)?;
        may_read(own)?;
        Ok::<VesselId, ReadError>(own)
    };
    match path.split('/').collect::<Vec<_>>().as_slice() {
        ["ship"] => {
            own()?;
            json(&fleet.ship_card().await.ok_or(ReadError::NoShip)?)
        }
        ["crew"] => {
            own()?;
            json(&fleet.crew().await?)
        }
        ["board"] => {
            let own = own()?;
            json(&fleet.board(own).await?)
        }
        ["procedures"] => {
            let own = own()?;
            json(&fleet.with(own, catalogue::procedures).await?)
        }
        ["procedures", slug] => {
            let own = own()?;
            let page = fleet
                .with(own, |ledger| catalogue::procedure_page(ledger, slug))
                .await?;
            json(&page.ok_or_else(|| ReadError::NoProcedure((*slug).to_owned()))?)
        }
        ["rounds"] => {
            let own = own()?;
            json(
                &fleet
                    .with(own, |ledger| catalogue::rounds_page(ledger, now))
                    .await?,
            )
        }
        ["defects"] => {
            let own = own()?;
            json(
                &fleet
                    .with(own, |ledger| catalogue::defects_page(ledger, now))
                    .await?,
            )
        }
        ["settings"] => {
            let own = own()?;
            json(&fleet.with(own, catalogue::settings_page).await?)
        }
        ["vessels"] => {
            let cards = fleet.each(|ledger| {
                let is_house = ledger.particulars().is_some_and(VesselBody::is_ashore);
                let is_seen = !is_house && may_read(ledger.vessel()).is_ok();
                is_seen.then(|| board::vessel_card(ledger, now))
            });
            json(&cards.await.into_iter().flatten().collect::<Vec<_>>())
        }
        ["vessels", vessel] => {
            let vessel = name::<VesselId>(vessel)?;
            may_read(vessel)?;
            json(&fleet.board(vessel).await?)
        }
        ["log"] => json(&fleet.log_card(own()?).await?),
        ["vessels", vessel, "log"] => {
            let vessel = name::<VesselId>(vessel)?;
            may_read(vessel)?;
            json(&fleet.log_card(vessel).await?)
        }
        ["vessels", vessel, "runs"] => {
            let vessel = name::<VesselId>(vessel)?;
            may_read(vessel)?;
            let page = fleet
                .with(vessel, |ledger| board::vessel_page(ledger, now))
                .await?;
            json(&page)
        }
        ["vessels", vessel, "runs", run] => {
            let (vessel, run): (VesselId, RunId) = (name(vessel)?, name(run)?);
            may_read(vessel)?;
            let page = fleet
                .with(vessel, |ledger| board::run_page(ledger, run, now))
                .await?;
            json(&page.ok_or(ReadError::NoRun(run))?)
        }
        _ => Err(ReadError::NoSuchPath(path.to_owned())),
    }
}
