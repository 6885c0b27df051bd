//! What pages and programs read: the same answers over HTTP and while the server draws a page.

use crate::anchor_watch::night::night;
use crate::api::error::ApiError;
use crate::api::routes::{Call, Reply, Routes, named, pass};
use crate::clock::now_ms;
use crate::fleet::{Fleet, FleetError};
use crate::session::Caller;
use axum::http::StatusCode;
use futures::FutureExt as _;
use futures::future::BoxFuture;
use journal::access::Permission;
use journal::address::{self, Address, Gate, Json, Nothing};
use journal::watch::WatchPage;
use journal::{Ledger, RunId, VesselBody, board, catalogue, drills, gear, setup, survey};
use record::VesselId;
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::fmt;
use std::sync::Arc;

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// There is no such run, or its procedure is not here.
    #[error("there is no run {0} here, or its procedure has not arrived")]
    NoRun(RunId),
    /// There is no such procedure.
    #[error("there is no procedure {0:?} aboard")]
    NoProcedure(String),
    /// There is no such item.
    #[error("no item {0:?} is on the register of the ship's gear")]
    NoItem(String),
    /// This server has no ship of its own.
    #[error("this server has no ship of its own: look at the office's pages")]
    NoShip,
    /// The records cannot be read.
    #[error(transparent)]
    Fleet(#[from] FleetError),
}

/// A question that has passed its address's gate.
struct Question<const N: usize> {
    fleet: Arc<Fleet>,
    caller: Caller,
    vessel: VesselId,
    path: [String; N],
}

type Answer = BoxFuture<'static, Result<String, ApiError>>;

/// Answers one address for a caller, with the parameters of its path.
type Draw = dyn Fn(&Arc<Fleet>, &Caller, Vec<String>) -> Answer + Send + Sync;

/// How one address is answered while a page is drawn.
struct Drawn {
    path: &'static str,
    answer: Box<Draw>,
}

/// The addresses that are read: as routes for HTTP, and by path for pages that are drawn.
#[derive(Default)]
pub struct ReadApi {
    routes: Routes,
    drawn: Vec<Drawn>,
}

impl fmt::Debug for ReadApi {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_list()
            .entries(self.drawn.iter().map(|drawn| drawn.path))
            .finish()
    }
}

fn text<T: Serialize>(value: &T) -> Result<String, ApiError> {
    serde_json::to_string(value)
        .map_err(|error| ApiError::with(StatusCode::INTERNAL_SERVER_ERROR, error.to_string()))
}

/// Returns the parameters of a path that fits `pattern`.
fn fitted(pattern: &str, path: &str) -> Option<Vec<String>> {
    let (mut pattern, mut path) = (pattern.split('/'), path.split('/'));
    let mut found = Vec::new();
    loop {
        match (pattern.next(), path.next()) {
            (None, None) => return Some(found),
            (Some(name), Some(value)) if name.starts_with('{') => found.push(value.to_owned()),
            (Some(name), Some(value)) if name == value => {}
            _ => return None,
        }
    }
}

impl ReadApi {
    fn on<const N: usize, A, F, Fut>(
        self,
        address: &Address<N, Nothing, Json<A>>,
        answer: F,
    ) -> Self
    where
        A: Serialize + DeserializeOwned + Send + 'static,
        F: Fn(Question<N>) -> Fut + Clone + Send + Sync + 'static,
        Fut: Future<Output = Result<A, ApiError>> + Send + 'static,
    {
        let Self { routes, mut drawn } = self;
        let served = answer.clone();
        let routes = routes.on(address, move |app, call: Call<N, ()>| {
            let question = Question {
                fleet: app.fleet,
                caller: call.caller,
                vessel: call.vessel,
                path: call.path,
            };
            let answer = served(question);
            async move { Reply::json(&answer.await?) }
        });
        let gate: Gate = address.who();
        let answer = move |fleet: &Arc<Fleet>, caller: &Caller, path: Vec<String>| -> Answer {
            let passed = pass(gate, caller, fleet.own_vessel(), &path);
            let vessel = match passed {
                Ok(vessel) => vessel.unwrap_or(caller.vessel),
                Err(error) => return futures::future::ready(Err(error)).boxed(),
            };
            let Ok(path) = <[String; N]>::try_from(path) else {
                return futures::future::ready(Err(nothing_at("such a path"))).boxed();
            };
            let (fleet, caller) = (Arc::clone(fleet), caller.clone());
            let answer = answer(Question {
                fleet,
                caller,
                vessel,
                path,
            });
            async move { text(&answer.await?) }.boxed()
        };
        let (path, answer) = (address.path(), Box::new(answer));
        drawn.push(Drawn { path, answer });
        Self { routes, drawn }
    }

    /// Lists every address that is read as JSON, with its answer.
    pub fn new() -> Self {
        Self::default()
            .on(&address::SHIP, async |asked| {
                Ok(asked.fleet.ship_card().await.ok_or(ReadError::NoShip)?)
            })
            .on(&address::CREW, async |asked| Ok(asked.fleet.crew().await?))
            .on(&address::BOARD, async |asked| {
                Ok(asked.fleet.board(asked.vessel).await?)
            })
            .on(&address::PROCEDURES, async |asked| {
                Ok(asked
                    .fleet
                    .with(asked.vessel, catalogue::procedures)
                    .await?)
            })
            .on(&address::PROCEDURE, async |asked| {
                let [slug] = asked.path;
                let page = asked.fleet.with(asked.vessel, |ledger| {
                    catalogue::procedure_page(ledger, &slug)
                });
                Ok(page.await?.ok_or(ReadError::NoProcedure(slug))?)
            })
            .on(&address::ROUNDS, async |asked| {
                let page = |ledger: &Ledger| catalogue::rounds_page(ledger, now_ms());
                Ok(asked.fleet.with(asked.vessel, page).await?)
            })
            .on(&address::DRILLS, async |asked| {
                let page = |ledger: &Ledger| drills::drills_page(ledger, now_ms());
                Ok(asked.fleet.with(asked.vessel, page).await?)
            })
            .on(&address::SURVEY, async |asked| {
                let page = |ledger: &Ledger| survey::survey_page(ledger, now_ms());
                Ok(asked.fleet.with(asked.vessel, page).await?)
            })
            .on(&address::DEFECTS, async |asked| {
                let page = |ledger: &Ledger| catalogue::defects_page(ledger, now_ms());
                Ok(asked.fleet.with(asked.vessel, page).await?)
            })
            .on(&address::GEAR, async |asked| {
                let page = |ledger: &Ledger| gear::gear_page(ledger, now_ms());
                Ok(asked.fleet.with(asked.vessel, page).await?)
            })
            .on(&address::GEAR_ITEM, async |asked| {
                let [item] = asked.path;
                let page = asked.fleet.with(asked.vessel, |ledger| {
                    gear::item_page(ledger, &item, now_ms())
                });
                Ok(page.await?.ok_or(ReadError::NoItem(item))?)
            })
            .on(&address::SETUP, async |asked| {
                let page = |ledger: &Ledger| setup::setup_page(ledger, now_ms());
                Ok(asked.fleet.with(asked.vessel, page).await?)
            })
            .on(&address::SETTINGS, async |asked| {
                let page = catalogue::settings_page;
                Ok(asked.fleet.with(asked.vessel, page).await?)
            })
            .on(&address::WATCH, async |asked| {
                Ok(WatchPage::clone(&asked.fleet.desk().page()))
            })
            .on(&address::WATCH_NIGHT, async |asked| {
                Ok(night(&asked.fleet, now_ms()).await?)
            })
            .on(&address::WATCH_INPUTS, async |asked| {
                Ok(asked.fleet.desk().inputs(now_ms()))
            })
            .on(&address::LOG, async |asked| {
                Ok(asked.fleet.log_card(asked.vessel).await?)
            })
            .on(&address::VESSELS, async |asked| {
                let (caller, own) = (&asked.caller, asked.fleet.own_vessel());
                let cards = asked.fleet.each(|ledger| {
                    let is_ashore = ledger.particulars().is_some_and(VesselBody::is_ashore);
                    let allowed = caller.require(Permission::Read, ledger.vessel(), own);
                    let is_seen = !is_ashore && allowed.is_ok();
                    is_seen.then(|| board::vessel_card(ledger, now_ms()))
                });
                Ok(cards.await.into_iter().flatten().collect())
            })
            .on(&address::VESSEL, async |asked| {
                Ok(asked.fleet.board(asked.vessel).await?)
            })
            .on(&address::VESSEL_LOG, async |asked| {
                Ok(asked.fleet.log_card(asked.vessel).await?)
            })
            .on(&address::VESSEL_RUNS, async |asked| {
                let page = asked.fleet.vessel_page(asked.vessel, None, now_ms());
                Ok(page.await?)
            })
            .on(&address::VESSEL_EARLIER, async |asked| {
                let run: RunId = named(&asked.path[1])?;
                let page = asked.fleet.vessel_page(asked.vessel, Some(run), now_ms());
                Ok(page.await?)
            })
            .on(&address::RUN, async |asked| {
                let run: RunId = named(&asked.path[1])?;
                let most = board::RECORDS_SHOWN;
                let page = asked.fleet.run_page(asked.vessel, run, most, now_ms());
                Ok(page.await?.ok_or(ReadError::NoRun(run))?)
            })
    }

    /// Answers what stands at `path`, as JSON, for a page that is drawn for `caller`.
    ///
    /// # Errors
    /// [`ApiError`] if nothing stands there, or the caller lacks the permission.
    pub async fn answer(
        &self,
        fleet: &Arc<Fleet>,
        caller: &Caller,
        path: &str,
    ) -> Result<String, ApiError> {
        let found = self.drawn.iter().find_map(|drawn| {
            let parameters = fitted(drawn.path, path)?;
            Some((drawn.answer)(fleet, caller, parameters))
        });
        match found {
            Some(answer) => answer.await,
            None => Err(nothing_at(path)),
        }
    }

    /// Gives the routes away.
    pub fn take_routes(&mut self) -> Routes {
        std::mem::take(&mut self.routes)
    }
}

/// Says that nothing stands at a path.
pub fn nothing_at(path: &str) -> ApiError {
    ApiError::with(
        StatusCode::NOT_FOUND,
        format!("there is nothing at {path:?}"),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_fits_its_own_pattern_and_no_other() {
        let pattern = address::RUN.path();
        let found = fitted(pattern, "/api/v1/vessels/a/runs/b").unwrap();
        assert_eq!(found, ["a", "b"]);
        for path in [
            "/api/v1/vessels/a/runs",
            "/api/v1/vessels/a/runs/b/c",
            "",
            "/",
        ] {
            assert_eq!(fitted(pattern, path), None, "{path:?}");
        }
    }
}
