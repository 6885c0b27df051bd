//! A vessel's page in the office.

use super::{DeviceCard, RunCard, VesselCard, devices, run_card, short, vessel_card};
use crate::body::Person;
use crate::ledger::{Ledger, RunId};
use procedure::Round;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// How many runs a vessel's page shows.
pub const RUNS_SHOWN: usize = 12;

/// A vessel's page in the office: some of her runs, newest first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VesselPage {
    /// The vessel.
    pub vessel: VesselCard,
    /// Her newest runs, newest first; or those that were started before the one that was asked for. Of each only what
    /// its strip shows.
    pub runs: Vec<RunCard>,
    /// Her devices.
    pub devices: Vec<DeviceCard>,
    /// Her crew, for names.
    pub crew: Vec<Person>,
    /// Her rounds, the worst first.
    #[serde(default)]
    pub rounds: Vec<Round>,
    /// When the page was made, ms UTC by the server's clock.
    pub now_ms: i64,
    /// How many runs were started before those that are shown.
    #[serde(default)]
    pub earlier: usize,
}

/// Lists the runs of a vessel's page, newest first, and how many earlier ones there are.
pub fn shown(ledger: &Ledger, before: Option<RunId>) -> (Vec<RunId>, usize) {
    let made_ms = |run: RunId| ledger.made_ms(run).unwrap_or_default();
    let key = |run: RunId| (std::cmp::Reverse(made_ms(run)), run);
    let from = before.map(key);
    let runs = ledger
        .runs()
        .values()
        .filter(|file| file.procedure.is_some());
    let runs = runs.map(|file| key(file.id));
    let mut runs: Vec<_> = runs
        .filter(|key| from.is_none_or(|from| *key > from))
        .collect();
    runs.sort_unstable();
    let earlier = runs.len().saturating_sub(RUNS_SHOWN);
    runs.truncate(RUNS_SHOWN);
    (runs.into_iter().map(|(_, run)| run).collect(), earlier)
}

/// Makes a vessel's page of her newest runs.
pub fn vessel_page(ledger: &Ledger, now_ms: i64) -> VesselPage {
    vessel_page_before(ledger, None, now_ms)
}

/// Makes a vessel's page of the runs that were started before one of them.
pub fn vessel_page_before(ledger: &Ledger, before: Option<RunId>, now_ms: i64) -> VesselPage {
    let (runs, earlier) = shown(ledger, before);
    let card = |run: RunId| Some(short::strip(run_card(ledger, run, now_ms)?));
    VesselPage {
        vessel: vessel_card(ledger, now_ms),
        runs: runs.into_iter().filter_map(card).collect(),
        devices: devices(ledger, &BTreeMap::new()),
        crew: ledger
            .particulars()
            .map(|body| body.crew.clone())
            .unwrap_or_default(),
        rounds: ledger.rounds(now_ms),
        now_ms,
        earlier,
    }
}

/// Names the runs of a vessel's page that are put away.
pub fn wanted_for_vessel(ledger: &Ledger, before: Option<RunId>) -> Vec<RunId> {
    let is_away = |run: &RunId| {
        ledger
            .run(*run)
            .is_some_and(crate::ledger::RunFile::is_away)
    };
    shown(ledger, before)
        .0
        .into_iter()
        .filter(is_away)
        .collect()
}
