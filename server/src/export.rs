//! Records as files that can be checked without this program.

pub mod table;

use crate::clock::now_ms;
use crate::fleet::{Fleet, FleetError};
use crate::heads::Signed;
use journal::receipts::Given;
use journal::{Ledger, RunId};
use record::export::{DeviceKey, Header, Inclusion, LogProof};
use record::{DeviceId, Envelope, Receipt, ReceiptHash, RecordId, SoftKey, VesselId, log_origin};
use std::collections::{BTreeMap, BTreeSet};
use storage::Logged;

/// How many records are read at once.
const READ_AT_ONCE: usize = 2_000;

/// Makes an export of all of a vessel's records, in the order of the log, under its signed head. Where
/// the key is not at hand, the head that was signed last is given while it is still that of the log.
///
/// # Errors
/// [`FleetError`] if there is no such vessel, or the store fails.
pub async fn whole(fleet: &Fleet, vessel: VesselId) -> Result<Vec<u8>, FleetError> {
    fleet.with(vessel, |_| ()).await?;
    let signed = head(fleet, vessel).await?;
    let size = match &signed {
        Some(signed) => signed.checkpoint.head.size,
        None => fleet.store().log_size(vessel).await?,
    };
    let mut records = Vec::new();
    let mut named: BTreeMap<RecordId, ReceiptHash> = BTreeMap::new();
    let mut from = 0;
    while from < size {
        let rows = fleet.store().logged(vessel, from, READ_AT_ONCE).await?;
        let Some(last) = rows.last() else { break };
        from = last.leaf + 1;
        let rows = rows.iter().filter(|row| row.leaf < size);
        named.extend(rows.clone().filter_map(|row| named_in(&row.stored.bytes)));
        records.extend(rows.flat_map(|row: &Logged| row.stored.bytes.iter().copied()));
    }
    let office = fleet.heads().office(vessel);
    let own = own_of(fleet, vessel);
    let header = fleet.with(vessel, |ledger| Header {
        receipts: own.map_or_else(Vec::new, |key| receipts(ledger, key, &named, &|_| true)),
        checkpoint: signed.map(|signed| signed.note),
        log: office.map(|office| LogProof {
            office: Some(office),
            inclusions: Vec::new(),
        }),
        ..header(ledger, None)
    });
    let mut file = header.await?.encode();
    file.append(&mut records);
    Ok(file)
}

/// Makes an export of one run's records and what vouches for them, each with its place in the log.
///
/// # Errors
/// [`FleetError`] if there is no such vessel, or the store fails.
pub async fn of_run(fleet: &Fleet, vessel: VesselId, run: RunId) -> Result<Vec<u8>, FleetError> {
    let records = fleet
        .with_runs(vessel, |_| vec![run], |ledger| records_of(ledger, run))
        .await?;
    let named = records.iter().filter_map(|(_, bytes)| named_in(bytes));
    let named: BTreeMap<RecordId, ReceiptHash> = named.collect();
    let signed = head(fleet, vessel).await?;
    let ids: BTreeSet<RecordId> = records.iter().map(|(id, _)| *id).collect();
    let own = own_of(fleet, vessel);
    let header = fleet.with(vessel, |ledger| Header {
        receipts: own.map_or_else(Vec::new, |key| {
            receipts(ledger, key, &named, &|id| ids.contains(&id))
        }),
        ..header(ledger, Some(run))
    });
    let mut header = header.await?;
    if let Some(signed) = signed {
        let size = signed.checkpoint.head.size;
        let mut inclusions = Vec::with_capacity(records.len());
        for (id, _) in &records {
            let proof = storage::log::inclusion(&**fleet.store(), vessel, *id, size).await?;
            inclusions.extend(proof.map(|(leaf, path)| Inclusion { leaf, path }));
        }
        header.checkpoint = Some(signed.note);
        header.log = Some(LogProof {
            office: fleet.heads().office(vessel),
            inclusions,
        });
    }
    let mut file = header.encode();
    file.extend(records.into_iter().flat_map(|(_, bytes)| bytes));
    Ok(file)
}

/// Returns the vessel's own key, where it is at hand: nobody else signs her receipts.
fn own_of(fleet: &Fleet, vessel: VesselId) -> Option<&SoftKey> {
    fleet.own().filter(|key| key.public().vessel() == vessel)
}

/// Signs the receipts for the records that are wanted once more, as they were given or could have been,
/// and those that the records name. One does for records that came together.
fn receipts(
    ledger: &Ledger,
    key: &SoftKey,
    named: &BTreeMap<RecordId, ReceiptHash>,
    wanted: &dyn Fn(RecordId) -> bool,
) -> Vec<Vec<u8>> {
    let mut chosen: BTreeMap<(DeviceId, u64, i64), Receipt> = BTreeMap::new();
    for (device, chain) in ledger.chains() {
        let mut choose = |receipt: &Receipt| {
            chosen.insert((*device, receipt.seq, receipt.server_time_ms), *receipt);
        };
        let given = Given::of(ledger, *device);
        for (seq, id) in chain.iter().filter(|(_, id)| wanted(*id)) {
            if let Some(receipt) = named.get(&id).and_then(|hash| given.named(*hash)) {
                choose(receipt);
            }
            let Some(receipt) = given.of.get(&id) else {
                continue;
            };
            let next = chain.get(seq + 1).filter(|next| wanted(*next));
            let next = next.and_then(|next| given.of.get(&next));
            if next.is_none_or(|next| next.server_time_ms != receipt.server_time_ms) {
                choose(receipt);
            }
        }
    }
    let chosen = chosen.into_values();
    chosen
        .map(|receipt| receipt.sign(key).bytes().to_vec())
        .collect()
}

/// Returns the receipt that a record names, with the record.
fn named_in(bytes: &[u8]) -> Option<(RecordId, ReceiptHash)> {
    let envelope = Envelope::decode(bytes).ok()?;
    Some((envelope.id(), envelope.receipt()?))
}

async fn head(fleet: &Fleet, vessel: VesselId) -> Result<Option<Signed>, FleetError> {
    match fleet.heads().head(vessel, now_ms()).await {
        Ok(signed) => Ok(Some(signed)),
        // Without the key, the head that was signed last will do, if nothing has come in since.
        Err(FleetError::NoShip) => {
            let kept = fleet.heads().kept(vessel).await?;
            let own = log_origin("ship", vessel);
            Ok(kept.filter(|kept| kept.checkpoint.origin == own))
        }
        Err(error) => Err(error),
    }
}

fn records_of(ledger: &Ledger, run: RunId) -> Vec<(RecordId, Vec<u8>)> {
    let is_wanted = |record: &Envelope| {
        record.run() == Some(run)
            || record.id() == run
            || journal::ledger::is_standing(record.kind())
    };
    let mut records: Vec<_> = ledger
        .entries()
        .map(|entry| entry.record.envelope())
        .filter(|record| is_wanted(record))
        .collect();
    records.sort_by_key(|record| (record.hlc(), record.device(), record.seq(), record.id()));
    let records = records.into_iter();
    records
        .map(|record| (record.id(), record.bytes().to_vec()))
        .collect()
}

fn header(ledger: &Ledger, run: Option<RunId>) -> Header {
    let authority = DeviceKey {
        key: ledger.authority(),
        credential: None,
    };
    let devices = ledger.holders().values().map(|holder| DeviceKey {
        key: holder.key,
        credential: Some(holder.signed.bytes().to_vec()),
    });
    Header {
        vessel: ledger.vessel(),
        authority: ledger.authority(),
        run,
        devices: std::iter::once(authority).chain(devices).collect(),
        checkpoint: None,
        log: None,
        receipts: Vec::new(),
    }
}

/// Returns a moment as text, RFC 3339.
pub fn time(ms: i64) -> String {
    chrono::DateTime::from_timestamp_millis(ms).map_or_else(String::new, |time| {
        time.to_rfc3339_opts(chrono::SecondsFormat::Millis, true)
    })
}
