//! Bytes on the wire when a device comes back with 1,000 records, against what must travel at least: each
//! record's signature and payload. Measured as a ratio, so that it is the same on every machine.

use flate2::Compression;
use flate2::write::GzEncoder;
use record::sync::{Have, HaveReply, PageLimits, PushReply, Vector, plan_pages};
use record::{Draft, Envelope, Hlc, Receipt, RecordId, SoftKey, VerifiedRecord};
use std::collections::BTreeMap;
use std::io::Write as _;

const RECORDS: usize = 1_000;
/// design: bytes on the wire at most 1.3 times signature plus payload.
const BUDGET: f64 = 1.3;
/// design: at most 3 round trips beyond the pages.
const MOST_ROUND_TRIPS: usize = 3;

/// Two devices at work in runs of 40 records, each knowing the other's newest.
fn work(authority: &SoftKey) -> Vec<VerifiedRecord> {
    let keys = [SoftKey::from_seed([1; 32]), SoftKey::from_seed([2; 32])];
    let mut ends: [Option<(u64, RecordId)>; 2] = [None, None];
    let mut records: Vec<VerifiedRecord> = Vec::new();
    let mut run = None;
    let mut hlc = Hlc::default();
    let steps = [
        "party",
        "protection",
        "locker-vent",
        "wash-water",
        "brake-port",
    ];
    for number in 0..RECORDS {
        if number % 40 == 0 {
            run = None;
        }
        let at = usize::from(number % 3 == 0);
        let other = ends[1 - at].filter(|_| run.is_some());
        let time_ms = 1_795_000_000_000 + i64::try_from(number).unwrap_or(0) * 23_517;
        hlc = hlc.tick(time_ms);
        let step = steps[number % steps.len()];
        // An event as the journal writes it: an array of an index and its fields.
        let mut body = vec![0x82, 0x01, 0x82];
        body.push(0x60 + u8::try_from(step.len()).unwrap_or(0));
        body.extend(step.bytes());
        body.extend([0x82, 0x00, 0x80]);
        let draft = Draft {
            vessel: authority.public().vessel(),
            device: keys[at].device(),
            seq: ends[at].map_or(1, |(seq, _)| seq + 1),
            prev: ends[at].map(|(_, id)| id),
            run,
            heads: other.into_iter().map(|(_, id)| id).collect(),
            time_ms,
            hlc,
            author: ["orrin", "salter"][at].into(),
            receipt: None,
            kind: "run".to_owned(),
            body,
        };
        let unsigned = draft.to_be_signed().expect("invariant: a record in order");
        let record = unsigned.sign(&keys[at]).expect("invariant: its own key");
        ends[at] = Some((record.seq(), record.id()));
        run = run.or(Some(record.id()));
        records.push(record);
    }
    records
}

/// The bytes that no encoding can do without: the signature and the payload as they are signed.
fn least(record: &VerifiedRecord) -> usize {
    let mut decoder = minicbor::Decoder::new(record.bytes());
    let mut read = || -> Result<usize, minicbor::decode::Error> {
        decoder.tag()?;
        decoder.array()?;
        decoder.skip()?;
        decoder.skip()?;
        Ok(decoder.bytes()?.len() + decoder.bytes()?.len())
    };
    read().expect("invariant: a record is a COSE_Sign1")
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    let mut packer = GzEncoder::new(Vec::new(), Compression::best());
    packer
        .write_all(bytes)
        .expect("invariant: memory takes all");
    packer.finish().expect("invariant: memory takes all")
}

fn main() {
    let authority = SoftKey::from_seed([7; 32]);
    let records = work(&authority);
    let least: usize = records.iter().map(least).sum();
    let envelopes: Vec<Envelope> = records.iter().map(|r| r.envelope().clone()).collect();
    let mut vector = Vector::new();
    for record in &records {
        vector.insert(record.device(), record.seq());
    }
    let vessel = authority.public().vessel();

    // One question and its answer, then page after page, each with its answer.
    let mut trips = 1;
    let question = Have {
        vessel,
        vector: vector.clone(),
    };
    let answer = HaveReply {
        vector: Vector::new(),
        need: record::sync::diff(&vector, &Vector::new()),
        server_time_ms: 1_795_000_000_000,
    };
    let mut sent = question.encode().len();
    let mut answered = answer.encode().len();
    let pages = plan_pages(envelopes, PageLimits::default());
    let mut heads = BTreeMap::new();
    for page in &pages {
        trips += 1;
        sent += packed(&page.bytes()).len();
        for record in &page.records {
            heads.insert(record.device(), (record.seq(), record.id()));
        }
        let receipts = heads.iter().map(|(device, (seq, head))| {
            let receipt = Receipt {
                vessel,
                device: *device,
                seq: *seq,
                head: *head,
                server_time_ms: 1_795_000_000_000,
            };
            receipt.sign(&authority).bytes().to_vec()
        });
        let reply = PushReply {
            stored: page.records.len() as u64,
            receipts: receipts.collect(),
            vector: heads
                .iter()
                .map(|(device, (seq, _))| (*device, *seq))
                .collect(),
            server_time_ms: 1_795_000_000_000,
            ..PushReply::default()
        };
        answered += reply.encode().len();
    }
    let ratio = (sent + answered) as f64 / least as f64;
    let beyond = trips - pages.len();
    println!(
        "wire: {RECORDS} records, signature and payload {least} bytes; sent {sent}, answered {answered}"
    );
    println!(
        "bench\treconnect, bytes of {RECORDS} records\t{ratio:.3}\tmost\t{BUDGET}\t{} against {least}, signatures and payloads",
        sent + answered
    );
    println!(
        "bench\treconnect, round trips\t{beyond}\tmost\t{MOST_ROUND_TRIPS}\tbeyond the {} pages",
        pages.len()
    );
    assert!(ratio <= BUDGET, "over the budget for bytes on the wire");
    assert!(
        beyond <= MOST_ROUND_TRIPS,
        "over the budget for round trips"
    );
}
