//! The one task that appends: it takes what waits, commits it together, then answers everybody.
//!
//! Replicas take turns under an advisory lock. So the order of arrival is the order of commit, and
//! a reader that asks for what came after a number never misses one that was still on its way.

use std::sync::Arc;

use record::{DeviceId, RecordId, VesselId};
use tokio::sync::{mpsc, oneshot};
use tokio_postgres::{Config, Row, Statement, Transaction};

use super::connection::Connection;
use super::log::{self, LogStatements};
use super::schema;
use super::{device_id, fault, record_id, vessel_id};
use crate::admission::{ChainKey, ChainView, Shelf, State, chain_key};
use crate::{Appended, Arrival, StorageError};

/// The advisory lock under which records are appended: `CLWH` and 1.
pub(super) const APPEND_LOCK: i64 = 0x434c_5748_0000_0001;
/// The most records in one commit; a batch that is larger is committed alone.
const GROUP_RECORDS: usize = 500;
/// How many batches may wait before those who bring more have to.
const QUEUE: usize = 256;

pub(super) const LOCK: &str = "SELECT pg_advisory_xact_lock($1)";
const BY_ID: &str = "SELECT id FROM records WHERE id = ANY($1::bytea[])";
const CHAINS: &str = "SELECT vessel, device, c.height, c.head
    FROM UNNEST($1::bytea[], $2::bytea[]) AS asked (vessel, device)
    JOIN chains c USING (vessel, device)";
const BEYOND: &str = "SELECT r.vessel, r.device, r.seq, r.id, r.prev
    FROM UNNEST($1::bytea[], $2::bytea[], $3::bigint[]) AS asked (vessel, device, height)
    JOIN records r ON r.vessel = asked.vessel AND r.device = asked.device
        AND r.seq > asked.height AND r.state = 'chain'";
const BY_NUMBER: &str = "SELECT vessel, device, seq, r.id
    FROM UNNEST($1::bytea[], $2::bytea[], $3::bigint[]) AS asked (vessel, device, seq)
    JOIN records r USING (vessel, device, seq) WHERE r.state = 'chain'";
const INSERT: &str = "INSERT INTO records (id, vessel, device, seq, prev, run, kind, author, bytes,
                         time_ms, received_ms, offset_ms, state, leaf)
    SELECT id, vessel, device, seq, prev, run, kind, author, bytes,
           time_ms, received_ms, offset_ms, state, leaf
    FROM UNNEST($1::bytea[], $2::bytea[], $3::bytea[], $4::bigint[], $5::bytea[], $6::bytea[],
                $7::text[], $8::text[], $9::bytea[], $10::bigint[], $11::bigint[], $12::bigint[],
                $13::text[], $14::bigint[])
         WITH ORDINALITY AS new (id, vessel, device, seq, prev, run, kind, author, bytes,
                                 time_ms, received_ms, offset_ms, state, leaf, place)
    ORDER BY place";
const HEIGHTS: &str = "INSERT INTO chains (vessel, device, height, head)
    SELECT * FROM UNNEST($1::bytea[], $2::bytea[], $3::bigint[], $4::bytea[])
    ON CONFLICT (vessel, device) DO UPDATE SET height = excluded.height, head = excluded.head";

type Answer = oneshot::Sender<Result<Vec<Appended>, StorageError>>;

enum Task {
    Append(Vec<Arrival>, Answer),
    MakeReady(oneshot::Sender<Result<(), StorageError>>),
    Close(oneshot::Sender<()>),
}

/// Whether the database is as this program wants it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Readiness {
    /// It is.
    Ready,
    /// It could not be written to: before the next writing it is brought up to date.
    Later,
}

/// Brings the database up to date.
pub(super) async fn make_ready(connection: &mut Connection) -> Result<(), StorageError> {
    schema::migrate(connection, schema::MIGRATIONS).await?;
    log::fill(connection).await
}

/// Hands batches to the appending task.
#[derive(Debug)]
pub(super) struct Writer {
    tasks: mpsc::Sender<Task>,
}

impl Writer {
    pub(super) fn start(config: Config, connection: Connection, readiness: Readiness) -> Self {
        let (tasks, waiting) = mpsc::channel(QUEUE);
        let desk = Desk {
            config,
            connection: Some(connection),
            readiness,
        };
        tokio::spawn(work(desk, waiting));
        Self { tasks }
    }

    /// Brings the database up to date where that could not be done when it was opened.
    pub(super) async fn make_ready(&self) -> Result<(), StorageError> {
        let (answer, answered) = oneshot::channel();
        let sent = self.tasks.send(Task::MakeReady(answer)).await;
        sent.map_err(|_| StorageError::Closed)?;
        answered.await.unwrap_or(Err(StorageError::Closed))
    }

    pub(super) async fn append(&self, batch: Vec<Arrival>) -> Result<Vec<Appended>, StorageError> {
        let (answer, answered) = oneshot::channel();
        let sent = self.tasks.send(Task::Append(batch, answer)).await;
        sent.map_err(|_| StorageError::Closed)?;
        answered.await.unwrap_or(Err(StorageError::Closed))
    }

    /// Waits until what was handed over is stored.
    pub(super) async fn close(&self) {
        let (done, is_done) = oneshot::channel();
        if self.tasks.send(Task::Close(done)).await.is_ok() {
            // Lost only if the task had ended before, which is what is wanted.
            is_done.await.unwrap_or_default();
        }
    }
}

async fn work(mut desk: Desk, mut waiting: mpsc::Receiver<Task>) {
    let mut closing = None;
    while closing.is_none() {
        let Some(mut task) = waiting.recv().await else {
            return;
        };
        let mut batches = Vec::new();
        let mut answers = Vec::new();
        let mut records = 0;
        loop {
            match task {
                Task::Append(batch, answer) => {
                    records += batch.len();
                    batches.push(batch);
                    answers.push(answer);
                }
                Task::MakeReady(answer) => {
                    // One who asks and has gone needs no answer.
                    answer.send(desk.make_ready().await).ok();
                    break;
                }
                Task::Close(done) => {
                    closing = Some(done);
                    break;
                }
            }
            if records >= GROUP_RECORDS {
                break;
            }
            match waiting.try_recv() {
                Ok(next) => task = next,
                Err(_) => break,
            }
        }
        if !batches.is_empty() {
            answer_all(desk.append(&batches).await, answers);
        }
    }
    drop(waiting);
    if let Some(done) = closing {
        done.send(()).ok();
    }
}

fn answer_all(result: Result<Vec<Vec<Appended>>, StorageError>, answers: Vec<Answer>) {
    // An caller who has gone needs no answer.
    match result {
        Ok(all) => {
            for (answer, appended) in answers.into_iter().zip(all) {
                answer.send(Ok(appended)).ok();
            }
        }
        Err(error) => {
            let shared = Arc::new(error);
            for answer in answers {
                answer.send(Err(StorageError::shared(&shared))).ok();
            }
        }
    }
}

/// Where the one task writes.
struct Desk {
    config: Config,
    connection: Option<Connection>,
    readiness: Readiness,
}

impl Desk {
    async fn make_ready(&mut self) -> Result<(), StorageError> {
        if self.readiness == Readiness::Ready {
            return Ok(());
        }
        let mut connection = self.open().await?;
        let result = make_ready(&mut connection).await;
        self.connection = Some(connection);
        if result.is_ok() {
            self.readiness = Readiness::Ready;
        }
        result
    }

    /// Returns the connection, made anew if it has died.
    async fn open(&mut self) -> Result<Connection, StorageError> {
        match self.connection.take() {
            Some(connection) if !connection.client.is_closed() => Ok(connection),
            _ => Connection::open(&self.config).await,
        }
    }

    /// Appends over a new connection if the old one has died: what was stored before it died is then
    /// found as already stored.
    async fn append(
        &mut self,
        batches: &[Vec<Arrival>],
    ) -> Result<Vec<Vec<Appended>>, StorageError> {
        self.make_ready().await?;
        if let Some(mut connection) = self.connection.take() {
            let result = append_all(&mut connection, batches).await;
            if result.is_ok() || !connection.client.is_closed() {
                self.connection = Some(connection);
                return result;
            }
        }
        let mut connection = self.open().await?;
        let result = append_all(&mut connection, batches).await;
        self.connection = Some(connection);
        result
    }
}

/// The statements of an append, prepared.
struct Statements {
    lock: Statement,
    by_id: Statement,
    chains: Statement,
    beyond: Statement,
    by_number: Statement,
    insert: Statement,
    heights: Statement,
    log: LogStatements,
}

impl Statements {
    async fn prepare(connection: &mut Connection) -> Result<Self, tokio_postgres::Error> {
        Ok(Self {
            lock: connection.prepared(LOCK).await?,
            by_id: connection.prepared(BY_ID).await?,
            chains: connection.prepared(CHAINS).await?,
            beyond: connection.prepared(BEYOND).await?,
            by_number: connection.prepared(BY_NUMBER).await?,
            insert: connection.prepared(INSERT).await?,
            heights: connection.prepared(HEIGHTS).await?,
            log: LogStatements::prepare(connection).await?,
        })
    }
}

/// Stores all batches in one commit.
async fn append_all(
    connection: &mut Connection,
    batches: &[Vec<Arrival>],
) -> Result<Vec<Vec<Appended>>, StorageError> {
    let statements = Statements::prepare(connection).await.map_err(fault)?;
    let change = connection.client.transaction().await.map_err(fault)?;
    change
        .execute(&statements.lock, &[&APPEND_LOCK])
        .await
        .map_err(fault)?;
    let arrivals: Vec<&Arrival> = batches.iter().flatten().collect();
    let mut shelf = load(&change, &statements, &arrivals).await?;
    let before = shelf.chains.clone();
    let mut all = Vec::with_capacity(batches.len());
    let mut new: Vec<(&Arrival, State)> = Vec::new();
    for batch in batches {
        let mut appended = Vec::with_capacity(batch.len());
        for arrival in batch {
            let (outcome, state) = shelf.admit(&arrival.record);
            new.extend(state.map(|state| (arrival, state)));
            appended.push(outcome);
        }
        all.push(appended);
    }
    let logged: Vec<(VesselId, RecordId)> = new
        .iter()
        .map(|(arrival, _)| (arrival.record.vessel(), arrival.record.id()))
        .collect();
    let leaves = log::append(&change, &statements.log, &logged).await?;
    insert(&change, &statements, &new, &leaves)
        .await
        .map_err(fault)?;
    let grown: Vec<(&ChainKey, &ChainView)> = shelf
        .chains
        .iter()
        .filter(|(key, chain)| before.get(key).map_or(0, |old| old.height) != chain.height)
        .collect();
    store_heights(&change, &statements, &grown)
        .await
        .map_err(fault)?;
    change.commit().await.map_err(fault)?;
    Ok(all)
}

async fn insert(
    change: &Transaction<'_>,
    statements: &Statements,
    new: &[(&Arrival, State)],
    leaves: &[i64],
) -> Result<(), tokio_postgres::Error> {
    if new.is_empty() {
        return Ok(());
    }
    let records = || new.iter().map(|(arrival, _)| &arrival.record);
    let ids: Vec<RecordId> = records().map(|record| record.id()).collect();
    let vessels: Vec<VesselId> = records().map(|record| record.vessel()).collect();
    let devices: Vec<DeviceId> = records().map(|record| record.device()).collect();
    let prevs: Vec<Option<RecordId>> = records().map(|record| record.prev()).collect();
    let runs: Vec<Option<RecordId>> = records().map(|record| record.run()).collect();
    let received: Vec<i64> = new.iter().map(|(arrival, _)| arrival.received_ms).collect();
    let offsets: Vec<Option<i64>> = new.iter().map(|(arrival, _)| arrival.offset_ms).collect();
    let states: Vec<&str> = new.iter().map(|(_, state)| state.as_str()).collect();
    change
        .execute(
            &statements.insert,
            &[
                &ids.iter().map(RecordId::as_bytes).collect::<Vec<_>>(),
                &vessels.iter().map(VesselId::as_bytes).collect::<Vec<_>>(),
                &devices.iter().map(DeviceId::as_bytes).collect::<Vec<_>>(),
                &records()
                    .map(|record| record.seq().cast_signed())
                    .collect::<Vec<_>>(),
                &optional(&prevs),
                &optional(&runs),
                &records().map(|record| record.kind()).collect::<Vec<_>>(),
                &records()
                    .map(|record| record.author().as_str())
                    .collect::<Vec<_>>(),
                &records().map(|record| record.bytes()).collect::<Vec<_>>(),
                &records().map(|record| record.time_ms()).collect::<Vec<_>>(),
                &received,
                &offsets,
                &states,
                &leaves,
            ],
        )
        .await
        .map(drop)
}

fn optional(ids: &[Option<RecordId>]) -> Vec<Option<&[u8]>> {
    ids.iter()
        .map(|id| id.as_ref().map(RecordId::as_bytes))
        .collect()
}

async fn store_heights(
    change: &Transaction<'_>,
    statements: &Statements,
    grown: &[(&ChainKey, &ChainView)],
) -> Result<(), tokio_postgres::Error> {
    if grown.is_empty() {
        return Ok(());
    }
    let vessels: Vec<&[u8]> = grown
        .iter()
        .map(|((vessel, _), _)| vessel.as_bytes())
        .collect();
    let devices: Vec<&[u8]> = grown
        .iter()
        .map(|((_, device), _)| device.as_bytes())
        .collect();
    let heights: Vec<i64> = grown
        .iter()
        .map(|(_, chain)| chain.height.cast_signed())
        .collect();
    let heads: Vec<Option<&[u8]>> = grown
        .iter()
        .map(|(_, chain)| chain.head.as_ref().map(RecordId::as_bytes))
        .collect();
    change
        .execute(&statements.heights, &[&vessels, &devices, &heights, &heads])
        .await
        .map(drop)
}

/// Reads what is stored, as far as these records are concerned.
async fn load(
    change: &Transaction<'_>,
    statements: &Statements,
    arrivals: &[&Arrival],
) -> Result<Shelf, StorageError> {
    let mut shelf = Shelf::default();
    let ids: Vec<RecordId> = arrivals.iter().map(|arrival| arrival.record.id()).collect();
    let ids: Vec<&[u8]> = ids.iter().map(RecordId::as_bytes).collect();
    for row in change
        .query(&statements.by_id, &[&ids])
        .await
        .map_err(fault)?
    {
        shelf.ids.insert(record_id(row.try_get(0).map_err(fault)?)?);
    }
    for arrival in arrivals {
        shelf.chains.entry(chain_key(&arrival.record)).or_default();
    }
    let keys: Vec<ChainKey> = shelf.chains.keys().copied().collect();
    let vessels: Vec<&[u8]> = keys.iter().map(|(vessel, _)| vessel.as_bytes()).collect();
    let devices: Vec<&[u8]> = keys.iter().map(|(_, device)| device.as_bytes()).collect();
    for row in change
        .query(&statements.chains, &[&vessels, &devices])
        .await
        .map_err(fault)?
    {
        if let Some(chain) = shelf.chains.get_mut(&key_of(&row)?) {
            chain.height = number_of(&row, 2)?;
            chain.head = optional_id(&row, 3)?;
        }
    }
    let heights: Vec<i64> = keys
        .iter()
        .map(|key| shelf.chains[key].height.cast_signed())
        .collect();
    let asked = change
        .query(&statements.beyond, &[&vessels, &devices, &heights])
        .await;
    for row in asked.map_err(fault)? {
        let id = record_id(row.try_get(3).map_err(fault)?)?;
        if let Some(chain) = shelf.chains.get_mut(&key_of(&row)?) {
            chain
                .beyond
                .insert(number_of(&row, 2)?, (id, optional_id(&row, 4)?));
        }
    }
    let below: Vec<(ChainKey, u64)> = arrivals
        .iter()
        .map(|arrival| &arrival.record)
        .filter(|record| !shelf.ids.contains(&record.id()))
        .map(|record| (chain_key(record), record.seq()))
        .filter(|(key, seq)| *seq <= shelf.chains[key].height)
        .collect();
    if below.is_empty() {
        return Ok(shelf);
    }
    let vessels: Vec<&[u8]> = below
        .iter()
        .map(|((vessel, _), _)| vessel.as_bytes())
        .collect();
    let devices: Vec<&[u8]> = below
        .iter()
        .map(|((_, device), _)| device.as_bytes())
        .collect();
    let numbers: Vec<i64> = below.iter().map(|(_, seq)| seq.cast_signed()).collect();
    let asked = change
        .query(&statements.by_number, &[&vessels, &devices, &numbers])
        .await;
    for row in asked.map_err(fault)? {
        let id = record_id(row.try_get(3).map_err(fault)?)?;
        shelf
            .numbers
            .insert((key_of(&row)?, number_of(&row, 2)?), id);
    }
    Ok(shelf)
}

fn key_of(row: &Row) -> Result<ChainKey, StorageError> {
    let vessel = vessel_id(row.try_get(0).map_err(fault)?)?;
    Ok((vessel, device_id(row.try_get(1).map_err(fault)?)?))
}

fn number_of(row: &Row, column: usize) -> Result<u64, StorageError> {
    Ok(row
        .try_get::<_, i64>(column)
        .map_err(fault)?
        .cast_unsigned())
}

fn optional_id(row: &Row, column: usize) -> Result<Option<RecordId>, StorageError> {
    let bytes: Option<&[u8]> = row.try_get(column).map_err(fault)?;
    bytes.map(record_id).transpose()
}
