//! Records and what carries them: deterministic CBOR, sequences, exports.

use record::cbor::{MAX_DEPTH, Writer};
use record::export::{
    DeviceKey, Header, Inclusion, LogProof, Older, Since, check_since, verify_export, write_export,
};
use record::sync::{Sequence, Stop};
use record::{
    Credential, Draft, Envelope, Hlc, KeyProtection, MAX_RECORD_BYTES, PersonId, SoftKey,
    VerifiedRecord,
};

/// The golden vectors, good and bad, as other software made them.
const VECTORS: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../../app/record/tests/vectors"
);

fn vectors() -> Vec<Vec<u8>> {
    let listed = std::fs::read_dir(VECTORS).into_iter().flatten();
    let texts = listed.filter_map(|entry| std::fs::read_to_string(entry.ok()?.path()).ok());
    let bytes = texts.filter_map(|text| {
        let vector: serde_json::Value = serde_json::from_str(&text).ok()?;
        record::hex::decode(vector["bytes"].as_str()?)
    });
    let mut bytes: Vec<_> = bytes.collect();
    bytes.sort();
    bytes
}

pub fn key() -> SoftKey {
    SoftKey::from_seed([7; 32])
}

pub fn chain(count: u64) -> Vec<VerifiedRecord> {
    let (key, authority) = (SoftKey::from_seed([8; 32]), key());
    let mut records: Vec<VerifiedRecord> = Vec::new();
    for seq in 1..=count {
        let draft = Draft {
            vessel: authority.public().vessel(),
            device: key.device(),
            seq,
            prev: records.last().map(|record| record.id()),
            run: records.first().map(|record| record.id()),
            heads: Vec::new(),
            time_ms: 1_795_600_000_000,
            hlc: Hlc {
                ms: 1_795_600_000_000,
                ctr: 0,
            },
            author: PersonId::from("orrin"),
            receipt: None,
            kind: "run".to_owned(),
            body: vec![0x80],
        };
        let unsigned = draft.to_be_signed().expect("the draft keeps the rules");
        records.push(unsigned.sign(&key).expect("the key is the device's"));
    }
    records
}

pub fn token(authority: &SoftKey) -> Vec<u8> {
    let credential = Credential {
        vessel: authority.public().vessel(),
        person: PersonId::from("orrin"),
        name: "Tam Orrin".to_owned(),
        rank: "bosun".to_owned(),
        roles: vec!["crew".to_owned()],
        key: SoftKey::from_seed([8; 32]).public(),
        protection: KeyProtection::Software,
        not_before_s: 1_795_000_000,
        expires_s: 1_826_000_000,
        id: Some(vec![1, 2, 3]),
    };
    let signed = credential
        .sign(authority)
        .expect("the claims keep the rules");
    signed.bytes().to_vec()
}

/// Returns how deep the one item is nested: 0 for an item that holds no other.
fn depth(bytes: &[u8]) -> usize {
    nested(&mut minicbor::Decoder::new(bytes)).expect("the item is well formed")
}

fn nested(decoder: &mut minicbor::Decoder<'_>) -> Result<usize, minicbor::decode::Error> {
    use minicbor::data::Type;
    let inside = match decoder.datatype()? {
        Type::Array => decoder.array()?.unwrap_or(0),
        Type::Map => 2 * decoder.map()?.unwrap_or(0),
        Type::Tag => decoder.tag().map(|_| 1)?,
        _ => return decoder.skip().map(|()| 0),
    };
    let mut deepest = 0;
    for _ in 0..inside {
        deepest = deepest.max(1 + nested(decoder)?);
    }
    Ok(deepest)
}

/// Bytes that pass are one item, nested no deeper than allowed; no beginning of them passes.
pub fn cbor(bytes: &[u8]) {
    if record::cbor::check(bytes).is_err() {
        return;
    }
    assert!(depth(bytes) <= MAX_DEPTH);
    let mut sequence = Sequence::new(bytes);
    assert_eq!(sequence.next().map(|item| item.bytes), Some(bytes));
    assert!(record::cbor::check(&bytes[..bytes.len() - 1]).is_err());
    let twice = [bytes, bytes].concat();
    assert!(record::cbor::check(&twice).is_err(), "nothing may follow");
    let mut wrapped = Writer::new();
    wrapped.array(1).item(bytes);
    let deeper = record::cbor::check(&wrapped.into_bytes()).is_ok();
    assert_eq!(deeper, depth(bytes) < MAX_DEPTH);
}

pub fn cbor_seeds() -> Vec<Vec<u8>> {
    let mut seeds = vectors();
    let deep = [vec![0x81; MAX_DEPTH], vec![0]].concat();
    // Floats of each length, a big number, a map, text.
    let items: [&[u8]; 7] = [
        &[0xf9, 0x3c, 0x00],
        &[0xfa, 0x47, 0xc3, 0x50, 0x01],
        &[0xfb, 0x3f, 0xf1, 0x99, 0x99, 0x99, 0x99, 0x99, 0x9a],
        &[0xc2, 0x49, 1, 0, 0, 0, 0, 0, 0, 0, 0],
        &[0xa2, 0x01, 0xf5, 0x62, 0x61, 0x62, 0xf6],
        &[0x1b, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff],
        &deep,
    ];
    seeds.extend(items.map(<[u8]>::to_vec));
    seeds
}

/// A record that is read is written again as the same bytes under the same identity.
pub fn record(bytes: &[u8]) {
    let Ok(envelope) = Envelope::decode(bytes) else {
        return;
    };
    assert_eq!(envelope.bytes(), bytes, "the bytes are kept");
    assert!(bytes.len() <= MAX_RECORD_BYTES);
    record::cbor::check(bytes).expect("a record is deterministic CBOR");
    let unsigned = envelope.draft().clone().to_be_signed();
    let unsigned = unsigned.expect("what a reader takes a writer may write");
    assert_eq!(unsigned.id(), envelope.id());
    let sealed = unsigned.seal(*envelope.signature());
    assert_eq!(sealed.bytes(), bytes, "there is one way to write it");
    if let Ok(verified) = envelope.verify(&SoftKey::from_seed([8; 32]).public()) {
        assert_eq!(verified.bytes(), bytes);
    }
}

pub fn record_seeds() -> Vec<Vec<u8>> {
    let mut seeds = vectors();
    seeds.extend(chain(3).iter().map(|record| record.bytes().to_vec()));
    seeds
}

/// The items stand one after the other from the first byte on, and the end is said.
pub fn sequence(bytes: &[u8]) {
    let mut sequence = Sequence::new(bytes);
    let mut at = 0;
    for item in sequence.by_ref() {
        assert_eq!(item.at, at);
        assert!(!item.bytes.is_empty());
        assert_eq!(item.bytes, &bytes[at..at + item.bytes.len()]);
        at += item.bytes.len();
    }
    assert_eq!(sequence.at(), at);
    match sequence.stop() {
        Some(Stop::Whole) => assert_eq!(at, bytes.len()),
        Some(Stop::Cut { at: cut } | Stop::Unreadable { at: cut }) => {
            assert_eq!(cut, at);
            assert!(at < bytes.len());
        }
        None => panic!("the sequence has ended and does not say how"),
    }
}

pub fn sequence_seeds() -> Vec<Vec<u8>> {
    let page: Vec<u8> = chain(4)
        .iter()
        .flat_map(|record| record.bytes().to_vec())
        .collect();
    vec![
        page,
        vec![0x18, 23, 0x9f, 1, 0xff, 1],
        vec![0xbf, 1, 0x5f, 0x41, 0, 0xff, 0xff],
    ]
}

/// A header that is read is written again as the same bytes; a sound file is written again whole.
pub fn export(bytes: &[u8]) {
    let report = verify_export(bytes);
    let Some(header) = &report.header else {
        assert!(!report.is_sound());
        return;
    };
    let written = header.encode();
    assert!(
        bytes.starts_with(&written),
        "there is one way to write the header"
    );
    assert!(report.records.len() as u64 <= report.items);
    for fault in &report.faults {
        assert!(!fault.to_string().is_empty());
    }
    if report.is_sound() {
        assert_eq!(write_export(header, &report.records), bytes);
        let since = check_since(&report, Older::Export(&report));
        let same = Ok(Since::Extends { added: 0 });
        assert!(since == same || header.run.is_some(), "{since:?}");
    }
}

pub fn export_seeds() -> Vec<Vec<u8>> {
    let authority = key();
    let header = |run, credential| Header {
        vessel: authority.public().vessel(),
        authority: authority.public(),
        run,
        devices: vec![DeviceKey {
            key: SoftKey::from_seed([8; 32]).public(),
            credential,
        }],
        checkpoint: None,
        log: None,
        receipts: Vec::new(),
    };
    let records = chain(3);
    let whole = header(None, Some(token(&authority)));
    let run = header(Some(records[0].id()), None);
    let mut proved = whole.clone();
    proved.log = Some(LogProof {
        office: Some(SoftKey::from_seed([9; 32]).public()),
        inclusions: vec![Inclusion {
            leaf: 1,
            path: vec![[5; 32]],
        }],
    });
    let mut received = whole.clone();
    let receipt = record::Receipt {
        vessel: authority.public().vessel(),
        device: records[2].device(),
        seq: 3,
        head: records[2].id(),
        server_time_ms: 1_795_600_001_000,
    };
    received.receipts = vec![receipt.sign(&authority).bytes().to_vec()];
    vec![
        write_export(&proved, &records),
        write_export(&received, &records),
        write_export(&whole, &records),
        write_export(&run, &records[1..]),
    ]
}
