//! What the bridge and the office are shown: plain values, made from a ledger at a moment.

use crate::body::{Body, Person};
use crate::ledger::{Entry, Ledger, RunId};
use crate::receipts::Given;
use procedure::{RoundState, RunView};
use record::{DeviceId, ReceiptHash, RecordId, VesselId};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

mod news;
mod short;
mod vessel;

pub use news::{Behind, BoardNews, CardNews};
pub use vessel::{RUNS_SHOWN, VesselPage, vessel_page, vessel_page_before, wanted_for_vessel};

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
    /// Steps that were gone past and want a second's signature still.
    #[serde(default, skip_serializing_if = "is_none")]
    pub seconds: usize,
    /// When the newest record was received, ms UTC by the server's clock.
    pub last_received_ms: Option<i64>,
    /// Keys that are frozen because one sequence number was used twice.
    pub forks: usize,
    /// Position that day and night are reckoned for, degrees north and east.
    pub position: Option<(f64, f64)>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde hands a reference")]
fn is_none(count: &usize) -> bool {
    *count == 0
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
    /// How many earlier lines its history has beside those that are shown.
    #[serde(default)]
    pub earlier: usize,
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
    /// Why it was signed although some of its own checks failed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
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
    /// What is wrong with the ship's roll, and no master has read yet.
    #[serde(default)]
    pub log: Vec<crate::log::Trouble>,
    /// What is wrong with the server that made this board.
    #[serde(default)]
    pub server: Vec<crate::server_trouble::ServerTrouble>,
    /// How many more runs are under way than are shown.
    #[serde(default)]
    pub open_more: usize,
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
    /// Its newest records in the order in which they count.
    pub records: Vec<RecordLine>,
    /// How many earlier records it has: they are in its table and its file.
    #[serde(default)]
    pub earlier: usize,
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

/// How many runs that are under way a board shows: more than a watch can follow.
pub const OPEN_SHOWN: usize = 30;
/// How many closed runs a board lists.
pub const CLOSED_SHOWN: usize = 12;
/// How many records a run's page shows.
pub const RECORDS_SHOWN: usize = 300;
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
            reason: entry.plan.reason.clone(),
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
        earlier: 0,
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
        seconds: ledger.runs().values().map(|file| file.seconds.len()).sum(),
        last_received_ms: ledger.arrivals().next_back(),
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
    // The view of a run is dear; of the many only those shown are looked at.
    let (open_runs, open_more) = short::open_shown(ledger);
    let closed_runs = ledger.closed_last(CLOSED_SHOWN);
    let card = |run: RunId| {
        Some(short::card(
            run_card(ledger, run, now_ms)?,
            short::BOARD_LINES,
        ))
    };
    let mut open: Vec<RunCard> = open_runs.into_iter().filter_map(card).collect();
    let mut closed: Vec<RunCard> = closed_runs.into_iter().filter_map(card).collect();
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
        server: Vec::new(),
        open_more,
    }
}

/// Names the runs that a board shows and that are put away: it is made when they have been taken back.
pub fn wanted_for_board(ledger: &Ledger) -> Vec<RunId> {
    let closed = ledger.closed_last(CLOSED_SHOWN).into_iter();
    let is_away = |run: &RunId| {
        ledger
            .run(*run)
            .is_some_and(crate::ledger::RunFile::is_away)
    };
    closed.filter(is_away).collect()
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
    let id = entry.record.id().0;
    let mut history = card.into_iter().flat_map(|card| &card.view.history);
    let line = history.find(|line| line.id == id);
    said(line.map(|line| line.words.as_str()), entry)
}

fn said(words: Option<&str>, entry: &Entry) -> String {
    match &entry.body {
        Ok(Body::Run(_)) => words.unwrap_or("event").to_owned(),
        Ok(other) => other.kind().to_owned(),
        Err(error) => error.to_string(),
    }
}

/// Makes a run's page: its newest records, what each says, and whether its proof holds.
pub fn run_page(ledger: &Ledger, run: RunId, now_ms: i64) -> Option<RunPage> {
    let page = whole_run_page(ledger, run, now_ms, RECORDS_SHOWN)?;
    let card = short::card(page.card, RECORDS_SHOWN);
    Some(RunPage { card, ..page })
}

/// Makes a run's page with at most so many records, the newest.
pub fn whole_run_page(ledger: &Ledger, run: RunId, now_ms: i64, most: usize) -> Option<RunPage> {
    let card = run_card(ledger, run, now_ms)?;
    let file = ledger.run(run)?;
    let mut entries: Vec<_> = file
        .records
        .iter()
        .filter_map(|id| ledger.entry(*id))
        .collect();
    entries.sort_by_key(|entry| (entry.record.hlc(), entry.record.id()));
    let earlier = entries.len().saturating_sub(most);
    entries.drain(..earlier);
    let history = card.view.history.iter();
    let words: BTreeMap<[u8; 32], &str> =
        history.map(|line| (line.id, line.words.as_str())).collect();
    // The records of a run name few receipts, each of them often.
    let mut named: BTreeMap<(DeviceId, ReceiptHash), Option<i64>> = BTreeMap::new();
    let mut not_before_ms = |entry: &Entry| {
        let hash = entry.record.receipt()?;
        let found = || Given::named_by(ledger, entry.record.envelope());
        *named
            .entry((entry.record.device(), hash))
            .or_insert_with(|| found().map(|receipt| receipt.server_time_ms))
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
            says: said(words.get(&entry.record.id().0).copied(), entry),
            proof: proof(ledger, entry.record.id()),
            bytes: entry.record.bytes().len(),
        })
        .collect();
    Some(RunPage {
        vessel: vessel_card(ledger, now_ms),
        card,
        records,
        earlier,
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
        .and_then(|chain| chain.get(record.seq() - 1));
    // What is put away has counted, so that of the link only the name is left to compare.
    if before.is_some_and(|id| ledger.is_put_away(id) && record.prev() == Some(id)) {
        return Proof::Holds;
    }
    let before = before.and_then(|id| ledger.entry(id));
    match record::check_link(before.map(|entry| &entry.record), record) {
        Ok(()) => Proof::Holds,
        Err(refusal) => Proof::Fails(refusal.to_string()),
    }
}
