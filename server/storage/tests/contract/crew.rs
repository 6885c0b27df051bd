//! Devices and records to test with; seeds are public, never use them.

use record::{Draft, Hlc, RecordId, SoftKey, VerifiedRecord, VesselId};
use storage::Arrival;

pub const NOON_MS: i64 = 1_790_000_000_000;

pub fn vessel() -> VesselId {
    VesselId([7; 16])
}

pub fn key(number: u8) -> SoftKey {
    SoftKey::from_seed([number; 32])
}

pub fn draft(key: &SoftKey, prev: Option<&VerifiedRecord>) -> Draft {
    let seq = prev.map_or(1, |prev| prev.seq() + 1);
    Draft {
        vessel: vessel(),
        device: key.device(),
        seq,
        prev: prev.map(|prev| prev.id()),
        run: None,
        heads: vec![],
        time_ms: NOON_MS,
        hlc: Hlc::default().tick(NOON_MS),
        author: "j.marlow".into(),
        receipt: None,
        kind: "example.reading".into(),
        body: vec![0x15; 40],
    }
}

pub fn sign(key: &SoftKey, draft: Draft) -> VerifiedRecord {
    draft.to_be_signed().unwrap().sign(key).unwrap()
}

pub fn chain_from(
    key: &SoftKey,
    last: Option<&VerifiedRecord>,
    len: usize,
    run: Option<RecordId>,
) -> Vec<VerifiedRecord> {
    let mut records: Vec<VerifiedRecord> = Vec::new();
    for _ in 0..len {
        let draft = Draft {
            run,
            ..draft(key, records.last().or(last))
        };
        records.push(sign(key, draft));
    }
    records
}

pub fn chain(key: &SoftKey, len: usize) -> Vec<VerifiedRecord> {
    chain_from(key, None, len, None)
}

pub fn arrival(record: &VerifiedRecord) -> Arrival {
    Arrival {
        record: record.clone(),
        received_ms: NOON_MS + 500,
        offset_ms: Some(-250),
    }
}

pub fn arrivals(records: &[VerifiedRecord]) -> Vec<Arrival> {
    records.iter().map(arrival).collect()
}
