//! The one thread that writes: it takes what waits, commits it together, then answers everybody.

use std::collections::btree_map::Entry;
use std::sync::{Arc, Mutex, mpsc};
use std::thread::JoinHandle;

use record::{DeviceId, RecordId, VesselId};
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};
use tokio::sync::oneshot;

use super::desk::{Desk, set_note, swap_note};
use super::fault;
use super::log::Logs;
use super::{kept, quarantine};
use crate::admission::{ChainKey, ChainView, Shelf, State, chain_key};
use crate::{Appended, Arrival, KeptMark, KeptRow, Quarantined, StorageError};

/// The most records in one commit; a batch that is larger is committed alone.
const GROUP_RECORDS: usize = 500;
/// How many batches may wait before those who bring more have to.
const QUEUE: usize = 256;

type Answer<T> = oneshot::Sender<Result<T, StorageError>>;

enum Task {
    Append(Vec<Arrival>, Answer<Vec<Appended>>),
    Quarantine(Vec<(Option<VesselId>, Quarantined)>, Answer<()>),
    Keep(VesselId, Vec<KeptRow>, Vec<KeptMark>, Answer<()>),
    SetNote(String, Vec<u8>, Answer<()>),
    SwapNote(String, Option<Vec<u8>>, Vec<u8>, Answer<bool>),
    Check(Answer<()>),
    Close(oneshot::Sender<()>),
}

/// Hands work to the writing thread.
#[derive(Debug)]
pub(super) struct Writer {
    tasks: mpsc::SyncSender<Task>,
    thread: Mutex<Option<JoinHandle<()>>>,
}

impl Writer {
    /// Starts the thread, which owns the desk from now on.
    pub(super) fn start(desk: Desk) -> Result<Self, StorageError> {
        let (tasks, waiting) = mpsc::sync_channel(QUEUE);
        let thread = std::thread::Builder::new()
            .name("records".to_owned())
            .spawn(move || work(desk, &waiting))
            .map_err(|error| StorageError::Backend(Box::new(error)))?;
        Ok(Self {
            tasks,
            thread: Mutex::new(Some(thread)),
        })
    }

    pub(super) async fn append(&self, batch: Vec<Arrival>) -> Result<Vec<Appended>, StorageError> {
        self.ask(|answer| Task::Append(batch, answer)).await
    }

    pub(super) async fn quarantine(
        &self,
        refused: Vec<(Option<VesselId>, Quarantined)>,
    ) -> Result<(), StorageError> {
        self.ask(|answer| Task::Quarantine(refused, answer)).await
    }

    pub(super) async fn keep_runs(
        &self,
        vessel: VesselId,
        rows: Vec<KeptRow>,
        marks: Vec<KeptMark>,
    ) -> Result<(), StorageError> {
        self.ask(|answer| Task::Keep(vessel, rows, marks, answer))
            .await
    }

    pub(super) async fn set_note(&self, name: String, bytes: Vec<u8>) -> Result<(), StorageError> {
        self.ask(|answer| Task::SetNote(name, bytes, answer)).await
    }

    pub(super) async fn swap_note(
        &self,
        name: String,
        before: Option<Vec<u8>>,
        bytes: Vec<u8>,
    ) -> Result<bool, StorageError> {
        self.ask(|answer| Task::SwapNote(name, before, bytes, answer))
            .await
    }

    pub(super) async fn check(&self) -> Result<(), StorageError> {
        self.ask(Task::Check).await
    }

    /// Lets the thread finish what waits, fold the log into the file, and end.
    pub(super) async fn close(&self) {
        let (done, is_done) = oneshot::channel();
        self.send(Task::Close(done)).await;
        // Lost only if the thread had ended before, which is what is wanted.
        is_done.await.unwrap_or_default();
        let thread = self.thread.lock().ok().and_then(|mut thread| thread.take());
        if let Some(thread) = thread {
            let joined = tokio::task::spawn_blocking(move || thread.join()).await;
            if !matches!(joined, Ok(Ok(()))) {
                tracing::error!("the writing thread ended badly");
            }
        }
    }

    async fn ask<T>(&self, task: impl FnOnce(Answer<T>) -> Task) -> Result<T, StorageError> {
        let (answer, answered) = oneshot::channel();
        self.send(task(answer)).await;
        answered.await.unwrap_or(Err(StorageError::Closed))
    }

    /// Hands a task over; one that finds the thread gone is dropped, and its answer says so.
    async fn send(&self, task: Task) {
        match self.tasks.try_send(task) {
            Ok(()) | Err(mpsc::TrySendError::Disconnected(_)) => {}
            Err(mpsc::TrySendError::Full(task)) => {
                let tasks = self.tasks.clone();
                let sent = tokio::task::spawn_blocking(move || tasks.send(task));
                sent.await.ok();
            }
        }
    }
}

fn work(mut desk: Desk, waiting: &mpsc::Receiver<Task>) {
    while let Ok(first) = waiting.recv() {
        let mut group = Vec::new();
        let mut records = 0;
        let mut next = Some(first);
        // Whatever waits goes along: the busier the server, the more each flush carries.
        while let Some(task) = next.take() {
            match task {
                Task::Append(batch, answer) => {
                    records += batch.len();
                    group.push((batch, answer));
                    if records < GROUP_RECORDS {
                        next = waiting.try_recv().ok();
                    }
                }
                other => {
                    append_group(&mut desk, std::mem::take(&mut group));
                    if other_task(&mut desk, other) {
                        return;
                    }
                }
            }
        }
        append_group(&mut desk, group);
    }
}

/// Does a task that is no append; says whether it was the last.
fn other_task(desk: &mut Desk, task: Task) -> bool {
    // A caller who has gone needs no answer, here and below.
    match task {
        Task::Append(batch, answer) => append_group(desk, vec![(batch, answer)]),
        Task::Quarantine(refused, answer) => {
            let connection = desk.connection();
            let kept = connection.and_then(|connection| quarantine::keep(connection, &refused));
            answer.send(kept).ok();
        }
        Task::Keep(vessel, rows, marks, answer) => {
            let connection = desk.connection();
            let written =
                connection.and_then(|connection| kept::keep(connection, vessel, &rows, &marks));
            answer.send(written).ok();
        }
        Task::SetNote(name, bytes, answer) => {
            let connection = desk.connection();
            let written = connection.and_then(|connection| set_note(connection, &name, &bytes));
            answer.send(written).ok();
        }
        Task::SwapNote(name, before, bytes, answer) => {
            let connection = desk.connection();
            let written = connection.and_then(|connection| {
                swap_note(connection, &name, before.as_deref(), &bytes).map_err(fault)
            });
            answer.send(written.map(|rows| rows == 1)).ok();
        }
        Task::Check(answer) => {
            let connection = desk.connection();
            let written = connection.and_then(|connection| {
                let sql = "UPDATE probe SET count = count + 1";
                connection.execute(sql, []).map_err(fault)
            });
            answer.send(written.map(drop)).ok();
        }
        Task::Close(done) => {
            let fold = "PRAGMA wal_checkpoint(TRUNCATE)";
            let folded = desk.opened().map(|open| open.execute_batch(fold));
            if let Some(Err(error)) = folded {
                tracing::warn!(%error, "the log was not folded into the file; the next start does it");
            }
            done.send(()).ok();
            return true;
        }
    }
    false
}

fn append_group(desk: &mut Desk, group: Vec<(Vec<Arrival>, Answer<Vec<Appended>>)>) {
    if group.is_empty() {
        return;
    }
    let (batches, answers): (Vec<_>, Vec<_>) = group.into_iter().unzip();
    let appended = desk
        .connection()
        .and_then(|connection| append_all(connection, &batches));
    match appended {
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

/// Stores all batches in one commit.
fn append_all(
    connection: &mut Connection,
    batches: &[Vec<Arrival>],
) -> Result<Vec<Vec<Appended>>, StorageError> {
    let change = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(fault)?;
    let arrivals = batches.iter().flatten();
    let mut shelf = load(&change, arrivals).map_err(fault)?;
    let before = shelf.chains.clone();
    let mut logs = Logs::new(&change);
    let mut all = Vec::with_capacity(batches.len());
    for batch in batches {
        let mut appended = Vec::with_capacity(batch.len());
        for arrival in batch {
            let (outcome, state) = shelf.admit(&arrival.record);
            if let Some(state) = state {
                let leaf = logs.append(arrival.record.vessel(), arrival.record.id())?;
                insert(&change, arrival, state, leaf).map_err(fault)?;
            }
            appended.push(outcome);
        }
        all.push(appended);
    }
    for (key, chain) in &shelf.chains {
        if before.get(key).map(|chain| chain.height) != Some(chain.height) {
            store_height(&change, *key, chain).map_err(fault)?;
        }
    }
    logs.write()?;
    change.commit().map_err(fault)?;
    Ok(all)
}

fn insert(
    change: &Transaction,
    arrival: &Arrival,
    state: State,
    leaf: i64,
) -> rusqlite::Result<()> {
    let record = &arrival.record;
    change
        .prepare_cached(
            "INSERT INTO records (id, vessel, device, seq, prev, run, kind, author, bytes,
                                  time_ms, received_ms, offset_ms, state, leaf)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
        )?
        .execute(params![
            record.id().as_bytes(),
            record.vessel().as_bytes(),
            record.device().as_bytes(),
            record.seq().cast_signed(),
            record.prev().as_ref().map(RecordId::as_bytes),
            record.run().as_ref().map(RecordId::as_bytes),
            record.kind(),
            record.author().as_str(),
            record.bytes(),
            record.time_ms(),
            arrival.received_ms,
            arrival.offset_ms,
            state.as_str(),
            leaf,
        ])
        .map(drop)
}

fn store_height(
    change: &Transaction,
    (vessel, device): ChainKey,
    chain: &ChainView,
) -> rusqlite::Result<()> {
    change
        .prepare_cached(
            "INSERT INTO chains (vessel, device, height, head) VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT (vessel, device) DO UPDATE
             SET height = excluded.height, head = excluded.head",
        )?
        .execute(params![
            vessel.as_bytes(),
            device.as_bytes(),
            chain.height.cast_signed(),
            chain.head.as_ref().map(RecordId::as_bytes),
        ])
        .map(drop)
}

/// Reads what is stored, as far as these records are concerned.
fn load<'a>(
    change: &Transaction,
    arrivals: impl Iterator<Item = &'a Arrival>,
) -> rusqlite::Result<Shelf> {
    let mut shelf = Shelf::default();
    let mut by_id = change.prepare_cached("SELECT 1 FROM records WHERE id = ?1")?;
    let mut by_number = change.prepare_cached(
        "SELECT id FROM records WHERE vessel = ?1 AND device = ?2 AND seq = ?3 AND state = 'chain'",
    )?;
    for arrival in arrivals {
        let record = &arrival.record;
        let key = chain_key(record);
        if let Entry::Vacant(unknown) = shelf.chains.entry(key) {
            unknown.insert(load_chain(change, key)?);
        }
        if by_id.exists([record.id().as_bytes()])? {
            shelf.ids.insert(record.id());
        } else if record.seq() <= shelf.chains[&key].height {
            let (vessel, device) = (record.vessel(), record.device());
            let number = params![
                vessel.as_bytes(),
                device.as_bytes(),
                record.seq().cast_signed()
            ];
            let known = by_number
                .query_row(number, |row| id(row.get(0)?))
                .optional()?;
            if let Some(known) = known {
                shelf.numbers.insert((key, record.seq()), known);
            }
        }
    }
    Ok(shelf)
}

fn load_chain(change: &Transaction, (vessel, device): ChainKey) -> rusqlite::Result<ChainView> {
    let mut chain = change
        .prepare_cached("SELECT height, head FROM chains WHERE vessel = ?1 AND device = ?2")?
        .query_row([vessel.as_bytes(), device.as_bytes()], |row| {
            Ok(ChainView {
                height: row.get::<_, i64>(0)?.cast_unsigned(),
                head: optional_id(row.get(1)?)?,
                ..ChainView::default()
            })
        })
        .optional()?
        .unwrap_or_default();
    let mut beyond = change.prepare_cached(
        "SELECT seq, id, prev FROM records
         WHERE vessel = ?1 AND device = ?2 AND seq > ?3 AND state = 'chain'",
    )?;
    let place = params![
        vessel.as_bytes(),
        device.as_bytes(),
        chain.height.cast_signed()
    ];
    let mut rows = beyond.query(place)?;
    while let Some(row) = rows.next()? {
        let seq = row.get::<_, i64>(0)?.cast_unsigned();
        chain
            .beyond
            .insert(seq, (id(row.get(1)?)?, optional_id(row.get(2)?)?));
    }
    Ok(chain)
}

fn wrong_length() -> rusqlite::Error {
    let text = "an id of a wrong length".into();
    rusqlite::Error::FromSqlConversionFailure(0, rusqlite::types::Type::Blob, text)
}

fn id(bytes: Vec<u8>) -> rusqlite::Result<RecordId> {
    RecordId::from_slice(&bytes).ok_or_else(wrong_length)
}

fn optional_id(bytes: Option<Vec<u8>>) -> rusqlite::Result<Option<RecordId>> {
    bytes.map(id).transpose()
}

/// Reads a device's id out of a row.
pub(super) fn device_id(bytes: &[u8]) -> rusqlite::Result<DeviceId> {
    DeviceId::from_slice(bytes).ok_or_else(wrong_length)
}

/// Reads a vessel's id out of a row.
pub(super) fn vessel_id(bytes: &[u8]) -> rusqlite::Result<VesselId> {
    VesselId::from_slice(bytes).ok_or_else(wrong_length)
}

/// Reads a record's id out of a row.
pub(super) fn record_id(bytes: Vec<u8>) -> rusqlite::Result<RecordId> {
    id(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sqlite::schema::open_for_writing;
    use record::{Draft, Hlc, SoftKey};

    fn record(number: u8) -> Arrival {
        let key = SoftKey::from_seed([number; 32]);
        let draft = Draft {
            vessel: VesselId([7; 16]),
            device: key.device(),
            seq: 1,
            prev: None,
            run: None,
            heads: vec![],
            time_ms: 0,
            hlc: Hlc::default(),
            author: "j.marlow".into(),
            receipt: None,
            kind: "example.photograph".into(),
            body: vec![number; 20_000],
        };
        let record = draft.to_be_signed().unwrap().sign(&key).unwrap();
        Arrival {
            record,
            received_ms: 0,
            offset_ms: None,
        }
    }

    #[tokio::test]
    async fn full_disk_is_said_and_loses_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let connection = open_for_writing(&folder.path().join("records.sqlite")).unwrap();
        // A file that may not grow behaves like a disk that is full.
        connection
            .pragma_update(None, "max_page_count", 40)
            .unwrap();
        let writer = Writer::start(Desk::open(connection)).unwrap();
        assert_eq!(
            writer.append(vec![record(1)]).await.unwrap(),
            [Appended::Stored]
        );
        let refused = writer.append((2..30).map(record).collect()).await;
        assert!(matches!(refused, Err(StorageError::Full)), "{refused:?}");
        // What does not fit is refused as a whole; what fits goes on.
        let smaller = writer.append(vec![record(1), record(2)]).await.unwrap();
        assert_eq!(smaller, [Appended::AlreadyStored, Appended::Stored]);
        writer.close().await;
        let connection = open_for_writing(&folder.path().join("records.sqlite")).unwrap();
        let count: i64 = connection
            .query_row("SELECT count(*) FROM records", [], |row| row.get(0))
            .unwrap();
        assert_eq!(count, 2);
    }

    #[tokio::test]
    async fn batches_that_wait_together_are_committed_together_and_answered_apart() {
        let folder = tempfile::tempdir().unwrap();
        let connection = open_for_writing(&folder.path().join("records.sqlite")).unwrap();
        let mut desk = Desk::open(connection);
        let (answers, answered): (Vec<_>, Vec<_>) = (0..3).map(|_| oneshot::channel()).unzip();
        let batches = [vec![record(1)], vec![record(2), record(1)], vec![]];
        append_group(&mut desk, batches.into_iter().zip(answers).collect());
        let mut all = Vec::new();
        for answer in answered {
            all.push(answer.await.unwrap().unwrap());
        }
        let expected = [
            vec![Appended::Stored],
            vec![Appended::Stored, Appended::AlreadyStored],
            vec![],
        ];
        assert_eq!(all, expected);
    }
}
