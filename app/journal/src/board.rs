//! What the bridge and the office are shown: plain values, made from a ledger at a moment.

use crate::body::{Body, Person};
use crate::ledger::{Entry, Ledger, RunId};
use crate::receipts::Given;
use procedure::{Round, RoundState, RunView};
use record::{DeviceId, RecordId, VesselId};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// A device clock further off than this is pointed out wherever its time is shown, ms.
pub const CLOCK_TOLERANCE_MS: i64 = 120_000;

/// A vessel's name and what is known of her at a glance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VesselCard {
    /// Identity.
    pub id: VesselId,
    /// Name; the identity's first digits until her record is here.
    pub name: String,
    /// What she is.
    pub particulars: String,
    /// How many records are here.
    pub records: usize,
    /// Runs under way.
    pub open_runs: usize,
    /// Runs closed.
    pub closed_runs: usize,
    /// Open defects.
    pub defects: usize,
    /// Rounds whose time is past.
    #[serde(default)]
    pub overdue: usize,
    /// Rounds that were never done, as far as the records go.
    #[serde(default)]
    pub never_done: usize,
    /// When the newest record was received, ms UTC by the server's clock.
    pub last_received_ms: Option<i64>,
    /// Keys that are frozen because one sequence number was used twice.
    pub forks: usize,
    /// Position that day and night are reckoned for, degrees north and east.
    pub position: Option<(f64, f64)>,
}

/// One device and how old its news is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DeviceCard {
    /// The key.
    pub device: DeviceId,
    /// Whose it is.
    pub person: String,
    /// Their name.
    pub name: String,
    /// Their rank.
    pub rank: String,
    /// When the server last heard from it at all, ms UTC by the server's clock.
    pub heard_ms: Option<i64>,
    /// How far its clock was ahead of the server's when last measured, ms.
    pub offset_ms: Option<i64>,
}

/// One run as a card.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunCard {
    /// The run.
    pub run: RunId,
    /// The procedure's short name.
    pub slug: String,
    /// The procedure's title.
    pub title: String,
    /// When it was started, ms UTC by the starting device's clock.
    pub started_ms: i64,
    /// Who started it.
    pub started_by: String,
    /// When its newest record was made, ms UTC by its device's clock.
    pub newest_ms: i64,
    /// When its newest record was received, ms UTC by the server's clock.
    pub received_ms: Option<i64>,
    /// The devices that have worked on it.
    pub devices: Vec<DeviceId>,
    /// Its state.
    pub view: RunView,
}

/// An anchoring plan that a master has signed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct PlanCard {
    /// The record that carries it.
    pub id: RecordId,
    /// The signer's name.
    pub by: String,
    /// When it was signed, ms UTC by the signer's clock.
    pub signed_ms: i64,
    /// What it is for.
    pub title: String,
    /// The order for the bow.
    pub order: String,
    /// The inputs, as JSON.
    pub input_json: String,
}

/// The bridge's board.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Board {
    /// The vessel.
    pub vessel: VesselCard,
    /// When the board was made, ms UTC by the server's clock.
    pub now_ms: i64,
    /// Runs under way, the newest news first.
    pub open: Vec<RunCard>,
    /// The runs closed last, newest first.
    pub closed: Vec<RunCard>,
    /// Devices, the newest news first.
    pub devices: Vec<DeviceCard>,
    /// The crew, for names.
    pub crew: Vec<Person>,
    /// The plans signed last, newest first.
    #[serde(default)]
    pub plans: Vec<PlanCard>,
    /// What is wrong with the ship's log, and no master has read yet.
    #[serde(default)]
    pub log: Vec<crate::log::Trouble>,
}

/// One record as a line of a run's page.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RecordLine {
    /// Identity.
    pub id: RecordId,
    /// The key.
    pub device: DeviceId,
    /// Number in the key's chain.
    pub seq: u64,
    /// The device's time, ms UTC.
    pub time_ms: i64,
    /// When the server received it, ms UTC.
    pub received_ms: Option<i64>,
    /// When the server signed the receipt that the record names, ms UTC: it was made after that.
    #[serde(default)]
    pub not_before_ms: Option<i64>,
    /// Author's name.
    pub author: String,
    /// What it says, in words.
    pub says: String,
    /// What was verified, or what is wrong.
    pub proof: Proof,
    /// Size of the signed record, bytes.
    pub bytes: usize,
}

/// What was verified of a record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Proof {
    /// Signature, credential and place in the chain are right.
    Holds,
    /// Something is wrong, in words.
    Fails(String),
}

/// A run's full record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct RunPage {
    /// The vessel.
    pub vessel: VesselCard,
    /// The run.
    pub card: RunCard,
    /// Its records in the order in which they count.
    pub records: Vec<RecordLine>,
    /// The crew, for names.
    pub crew: Vec<Person>,
    /// When the page was made, ms UTC by the server's clock.
    pub now_ms: i64,
}

/// When a device was last heard and how its clock stood, as the server measured.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Heard {
    /// When, ms UTC by the server's clock.
    pub at_ms: i64,
    /// How far ahead the device's clock was, ms.
    pub offset_ms: i64,
}

/// How many closed runs a board lists.
const CLOSED_SHOWN: usize = 12;
/// How many plans a board carries.
const PLANS_SHOWN: usize = 4;

/// Returns the plans that a master has signed, newest first; what others put on record is no order.
pub fn signed_plans(ledger: &Ledger) -> impl Iterator<Item = PlanCard> {
    ledger
        .plans()
        .rev()
        .filter(|entry| ledger.is_masters(entry.id))
        .map(|entry| PlanCard {
            id: entry.id,
            by: ledger.name_of(&entry.author).to_owned(),
            signed_ms: entry.time_ms,
            title: entry.plan.title.clone(),
            order: entry.plan.order.clone(),
            input_json: entry.plan.input_json.clone(),
        })
}

/// Makes one run's card; `None` while its procedure is not here.
pub fn run_card(ledger: &Ledger, run: RunId, now_ms: i64) -> Option<RunCard> {
    let file = ledger.run(run)?;
    let state = file.state.as_ref()?;
    let procedure = file.procedure.as_ref()?;
    let start = &ledger.entry(run)?.record;
    let records: Vec<_> = file
        .records
        .iter()
        .filter_map(|id| ledger.entry(*id))
        .collect();
    let mut devices: Vec<DeviceId> = records.iter().map(|entry| entry.record.device()).collect();
    devices.sort_unstable();
    devices.dedup();
    Some(RunCard {
        run,
        slug: procedure.slug().to_owned(),
        title: procedure.title().to_owned(),
        started_ms: start.time_ms(),
        started_by: ledger.name_of(start.author().as_str()).to_owned(),
        newest_ms: records
            .iter()
            .map(|entry| entry.record.time_ms())
            .max()
            .unwrap_or_default(),
        received_ms: records.iter().filter_map(|entry| entry.received_ms).max(),
        devices,
        view: state.view(now_ms),
    })
}

/// Makes a vessel's card.
pub fn vessel_card(ledger: &Ledger, now_ms: i64) -> VesselCard {
    let body = ledger.particulars();
    let mut card = VesselCard {
        id: ledger.vessel(),
        name: body.map_or_else(
            || format!("vessel {:.8}", ledger.vessel().to_string()),
            |b| b.name.clone(),
        ),
        particulars: body.map(|b| b.particulars.clone()).unwrap_or_default(),
        records: ledger.len(),
        open_runs: 0,
        closed_runs: 0,
        defects: ledger.defects().iter().filter(|(_, d)| d.open).count(),
        overdue: 0,
        never_done: 0,
        last_received_ms: ledger.entries().filter_map(|entry| entry.received_ms).max(),
        forks: ledger.forks().len(),
        position: body.map(|b| {
            (
                f64::from(b.latitude_e7) / 1e7,
                f64::from(b.longitude_e7) / 1e7,
            )
        }),
    };
    for past in ledger.runs().values().filter_map(|file| file.past.as_ref()) {
        if past.closed_at_ms.is_some() {
            card.closed_runs += 1;
        } else {
            card.open_runs += 1;
        }
    }
    for round in ledger.rounds(now_ms) {
        match round.state {
            RoundState::Overdue => card.overdue += 1,
            RoundState::NeverDone => card.never_done += 1,
            RoundState::NotSet | RoundState::Due | RoundState::Done => {}
        }
    }
    card
}

/// Makes the bridge's board.
pub fn board(ledger: &Ledger, heard: &BTreeMap<DeviceId, Heard>, now_ms: i64) -> Board {
    // The view of a run is dear; of the many that are closed only those shown are looked at.
    let mut open_runs: Vec<RunId> = Vec::new();
    let mut closed_runs: Vec<(i64, RunId)> = Vec::new();
    for file in ledger.runs().values() {
        let Some(past) = file.state.as_ref().and_then(|state| state.as_past()) else {
            continue;
        };
        match past.closed_at_ms {
            None => open_runs.push(file.id),
            Some(closed_ms) => closed_runs.push((closed_ms, file.id)),
        }
    }
    closed_runs.sort_by_key(|(closed_ms, run)| (std::cmp::Reverse(*closed_ms), *run));
    closed_runs.truncate(CLOSED_SHOWN);
    let card = |run: RunId| run_card(ledger, run, now_ms);
    let mut open: Vec<RunCard> = open_runs.into_iter().filter_map(card).collect();
    let closed_runs = closed_runs.into_iter().map(|(_, run)| run);
    let mut closed: Vec<RunCard> = closed_runs.filter_map(card).collect();
    let newest_first = |card: &RunCard| (std::cmp::Reverse(card.newest_ms), card.run);
    open.sort_by_key(newest_first);
    closed.sort_by_key(newest_first);
    Board {
        vessel: vessel_card(ledger, now_ms),
        now_ms,
        open,
        closed,
        devices: devices(ledger, heard),
        crew: ledger
            .particulars()
            .map(|body| body.crew.clone())
            .unwrap_or_default(),
        plans: signed_plans(ledger).take(PLANS_SHOWN).collect(),
        log: Vec::new(),
    }
}

fn devices(ledger: &Ledger, heard: &BTreeMap<DeviceId, Heard>) -> Vec<DeviceCard> {
    let mut cards: Vec<DeviceCard> = ledger
        .holders()
        .iter()
        .map(|(device, holder)| {
            let news = heard.get(device);
            DeviceCard {
                device: *device,
                person: holder.credential.person.to_string(),
                name: ledger.name_of(holder.credential.person.as_str()).to_owned(),
                rank: holder.credential.rank.clone(),
                heard_ms: news.map(|news| news.at_ms),
                offset_ms: news.map(|news| news.offset_ms),
            }
        })
        .collect();
    cards.sort_by_key(|card| (std::cmp::Reverse(card.heard_ms), card.device));
    cards
}

/// Returns what a record says, in words; `card` is of the run that it belongs to.
pub(crate) fn says(card: Option<&RunCard>, entry: &Entry) -> String {
    match &entry.body {
        Ok(Body::Run(_)) => {
            let id = entry.record.id().0;
            let mut history = card.into_iter().flat_map(|card| &card.view.history);
            let line = history.find(|line| line.id == id);
            line.map_or_else(|| "event".to_owned(), |line| line.words.clone())
        }
        Ok(other) => other.kind().to_owned(),
        Err(error) => error.to_string(),
    }
}

/// Makes a run's page: every record, what it says, and whether its proof holds.
pub fn run_page(ledger: &Ledger, run: RunId, now_ms: i64) -> Option<RunPage> {
    let card = run_card(ledger, run, now_ms)?;
    let file = ledger.run(run)?;
    let mut entries: Vec<_> = file
        .records
        .iter()
        .filter_map(|id| ledger.entry(*id))
        .collect();
    entries.sort_by_key(|entry| (entry.record.hlc(), entry.record.id()));
    let named = |entry: &&Entry| entry.record.receipt().map(|_| entry.record.device());
    let devices: BTreeSet<DeviceId> = entries.iter().filter_map(named).collect();
    let devices = devices.into_iter();
    let given: BTreeMap<DeviceId, Given> = devices
        .map(|device| (device, Given::of(ledger, device)))
        .collect();
    let not_before_ms = |entry: &Entry| {
        let given = given.get(&entry.record.device())?;
        let receipt = given.named(entry.record.receipt()?)?;
        Some(receipt.server_time_ms)
    };
    let records = entries
        .into_iter()
        .map(|entry| RecordLine {
            id: entry.record.id(),
            device: entry.record.device(),
            seq: entry.record.seq(),
            time_ms: entry.record.time_ms(),
            received_ms: entry.received_ms,
            not_before_ms: not_before_ms(entry),
            author: ledger.name_of(entry.record.author().as_str()).to_owned(),
            says: says(Some(&card), entry),
            proof: proof(ledger, entry.record.id()),
            bytes: entry.record.bytes().len(),
        })
        .collect();
    Some(RunPage {
        vessel: vessel_card(ledger, now_ms),
        card,
        records,
        crew: ledger
            .particulars()
            .map(|body| body.crew.clone())
            .unwrap_or_default(),
        now_ms,
    })
}

/// Checks one record again: signature, credential, place in the chain.
pub fn proof(ledger: &Ledger, id: RecordId) -> Proof {
    let Some(entry) = ledger.entry(id) else {
        return Proof::Fails("the record is not here".to_owned());
    };
    let record = &entry.record;
    let Some(key) = ledger.key_of(record.device()) else {
        return Proof::Fails("no credential vouches for its key".to_owned());
    };
    if let Err(refusal) = record.envelope().verify(&key) {
        return Proof::Fails(refusal.to_string());
    }
    if ledger.forks().contains(&(record.device(), record.seq())) {
        return Proof::Fails("its number in the chain is used twice".to_owned());
    }
    if let Some(holder) = ledger.holders().get(&record.device())
        && holder.credential.person != *record.author()
    {
        return Proof::Fails("its key is another person's".to_owned());
    }
    let chain = ledger.chains().get(&record.device());
    let before = chain
        .filter(|_| record.seq() > 1)
        .and_then(|chain| chain.get(&(record.seq() - 1)))
        .and_then(|id| ledger.entry(*id));
    match record::check_link(before.map(|entry| &entry.record), record) {
        Ok(()) => Proof::Holds,
        Err(refusal) => Proof::Fails(refusal.to_string()),
    }
}

/// A vessel's page in the office: every run, newest first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct VesselPage {
    /// The vessel.
    pub vessel: VesselCard,
    /// Her runs, newest first.
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
}

/// Makes a vessel's page.
pub fn vessel_page(ledger: &Ledger, now_ms: i64) -> VesselPage {
    let mut runs: Vec<RunCard> = ledger
        .runs()
        .keys()
        .filter_map(|run| run_card(ledger, *run, now_ms))
        .collect();
    runs.sort_by_key(|card| (std::cmp::Reverse(card.started_ms), card.run));
    VesselPage {
        vessel: vessel_card(ledger, now_ms),
        runs,
        devices: devices(ledger, &BTreeMap::new()),
        crew: ledger
            .particulars()
            .map(|body| body.crew.clone())
            .unwrap_or_default(),
        rounds: ledger.rounds(now_ms),
        now_ms,
    }
}
