//! Devices and records to test with; seeds are public, never use them.

use record::{Draft, Hlc, RecordId, SoftKey, VerifiedRecord, VesselId};

pub const NOON_MS: i64 = 1_790_000_000_000;

pub fn authority() -> SoftKey {
    SoftKey::from_seed([7; 32])
}

pub fn vessel() -> VesselId {
    authority().public().vessel()
}

pub fn key(number: u8) -> SoftKey {
    SoftKey::from_seed([number; 32])
}

/// A record of this device after `prev`, belonging to no run.
pub fn draft(key: &SoftKey, prev: Option<&VerifiedRecord>) -> Draft {
    let seq = prev.map_or(1, |prev| prev.seq() + 1);
    let time_ms = NOON_MS + i64::try_from(seq).unwrap() * 1000;
    Draft {
        vessel: vessel(),
        device: key.device(),
        seq,
        prev: prev.map(|prev| prev.id()),
        run: None,
        heads: vec![],
        time_ms,
        hlc: Hlc::default().tick(time_ms),
        author: "j.marlow".into(),
        receipt: None,
        kind: "example.reading".into(),
        body: vec![0x82, 0x63, b'b', b'o', b'w', 21],
    }
}

pub fn sign(key: &SoftKey, draft: Draft) -> VerifiedRecord {
    draft.to_be_signed().unwrap().sign(key).unwrap()
}

/// A chain of `len` records.
pub fn chain(key: &SoftKey, len: usize) -> Vec<VerifiedRecord> {
    let mut records: Vec<VerifiedRecord> = Vec::new();
    for _ in 0..len {
        let next = sign(key, draft(key, records.last()));
        records.push(next);
    }
    records
}

/// Chains of several devices in one run, each record naming the newest of the others.
pub fn run(devices: u8, len: usize) -> Vec<Vec<VerifiedRecord>> {
    let keys: Vec<SoftKey> = (1..=devices).map(key).collect();
    let mut chains: Vec<Vec<VerifiedRecord>> = vec![Vec::new(); keys.len()];
    let mut start: Option<RecordId> = None;
    for _ in 0..len {
        for (at, key) in keys.iter().enumerate() {
            let mut heads: Vec<RecordId> = chains
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != at)
                .filter_map(|(_, chain)| Some(chain.last()?.id()))
                .collect();
            heads.sort();
            let draft = Draft {
                run: start,
                heads,
                ..draft(key, chains[at].last())
            };
            let record = sign(key, draft);
            start.get_or_insert(record.id());
            chains[at].push(record);
        }
    }
    chains
}
