//! How fast the server takes records in, verifying every signature and storing each durably, against how
//! fast the same cores verify bare Ed25519 signatures. A ratio of two measurements of one run.

#![expect(clippy::disallowed_methods, reason = "a benchmark measures time")]

use ed25519_dalek::{Signature, VerifyingKey};
use journal::Body;
use journal::body::{Person, VesselBody};
use procedure::{Event, Outcome};
use record::{Credential, Draft, Hlc, KeyProtection, RecordId, SoftKey, VerifiedRecord, VesselId};
use server::fleet::Fleet;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// design: at least 60 % of what bare verification reaches on the same cores.
const BUDGET: f64 = 0.60;
const DEVICES: u8 = 8;
/// Each device works so many runs of so many records.
const RUNS: usize = 20;
const RECORDS: usize = 50;
/// Records of a page, as the phones send them.
const PAGE: usize = 500;
/// Both are measured so often, in turn; the middle one of the ratios counts.
const ROUNDS: usize = 9;

/// One signer and the end of its chain.
struct Pen {
    key: SoftKey,
    person: String,
    end: Option<(u64, RecordId)>,
    hlc: Hlc,
}

impl Pen {
    fn new(key: SoftKey, person: &str) -> Self {
        Self {
            key,
            person: person.to_owned(),
            end: None,
            hlc: Hlc::default(),
        }
    }

    fn says(&mut self, vessel: VesselId, run: Option<RecordId>, body: &Body) -> VerifiedRecord {
        let seq = self.end.map_or(1, |(seq, _)| seq + 1);
        let time_ms = 1_795_000_000_000 + i64::try_from(seq).unwrap_or(0) * 20_000;
        self.hlc = self.hlc.tick(time_ms);
        let draft = Draft {
            vessel,
            device: self.key.device(),
            seq,
            prev: self.end.map(|(_, id)| id),
            run,
            heads: Vec::new(),
            time_ms,
            hlc: self.hlc,
            author: self.person.as_str().into(),
            receipt: None,
            kind: body.kind().to_owned(),
            body: body.encode().expect("invariant: a body in order"),
        };
        let unsigned = draft.to_be_signed().expect("invariant: a record in order");
        let record = unsigned.sign(&self.key).expect("invariant: its own key");
        self.end = Some((seq, record.id()));
        record
    }
}

fn standing(authority: &mut Pen, pens: &[Pen]) -> Vec<VerifiedRecord> {
    let vessel = authority.key.public().vessel();
    let crew = pens.iter().map(|pen| Person {
        id: pen.person.clone(),
        name: pen.person.clone(),
        rank: "hand".to_owned(),
        roles: vec!["crew".to_owned()],
        joins_ms: None,
        leaves_ms: None,
    });
    let body = VesselBody {
        name: "Aldermere".to_owned(),
        particulars: String::new(),
        crew: crew.collect(),
        latitude_e7: 0,
        longitude_e7: 0,
        ashore: None,
    };
    let mut records = vec![authority.says(vessel, None, &Body::Vessel(body))];
    for pen in pens {
        let credential = Credential {
            vessel,
            person: pen.person.as_str().into(),
            key: pen.key.public(),
            not_before_s: 0,
            expires_s: 4_000_000_000,
            id: None,
            name: pen.person.clone(),
            rank: "hand".to_owned(),
            roles: vec!["crew".to_owned()],
            protection: KeyProtection::Software,
        };
        let signed = credential
            .sign(&authority.key)
            .expect("invariant: in order");
        let body = Body::Credential(signed.bytes().to_vec());
        records.push(authority.says(vessel, None, &body));
    }
    records
}

/// What one device has recorded over some days.
fn work(pen: &mut Pen, vessel: VesselId) -> Vec<VerifiedRecord> {
    let library = procedure::library::all();
    let procedure = library
        .iter()
        .find(|procedure| procedure.slug() == "anchors-ready")
        .expect("invariant: it is in the library");
    let mut records = Vec::new();
    for _ in 0..RUNS {
        let start = Event::Start {
            procedure: procedure.hash(),
            slug: procedure.slug().to_owned(),
            choices: Vec::new(),
            remark: String::new(),
        };
        let start = pen.says(vessel, None, &Body::Run(Box::new(start)));
        let run = Some(start.id());
        records.push(start);
        for number in 1..RECORDS {
            let steps = procedure.steps();
            let done = Event::Done {
                step: steps[number % steps.len()].id.clone(),
                outcome: Outcome::Confirmed,
            };
            records.push(pen.says(vessel, run, &Body::Run(Box::new(done))));
        }
    }
    records
}

/// Verifies every signature on every core, and does nothing else.
fn bare(signed: &[(VerifyingKey, Vec<u8>, Signature)]) -> Duration {
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let start = Instant::now();
    std::thread::scope(|scope| {
        for share in signed.chunks(signed.len().div_ceil(cores)) {
            scope.spawn(move || {
                for (key, message, signature) in share {
                    let good = key.verify_strict(message, signature);
                    good.expect("invariant: it was signed");
                }
            });
        }
    });
    start.elapsed()
}

/// Takes all pages in, one sender for each device, into a fresh store on disk.
async fn ingest(
    authority: &SoftKey,
    standing: &[u8],
    devices: &[Vec<Vec<u8>>],
) -> Result<Duration, Box<dyn std::error::Error>> {
    let folder = tempfile::tempdir()?;
    let store = storage::open(&server::settings::default_store(folder.path())).await?;
    let fleet = Arc::new(Fleet::open(Arc::clone(&store), None).await?);
    fleet.pin(authority.public()).await?;
    let vessel = authority.public().vessel();
    fleet.push(standing, vessel, None, None).await?;
    let start = Instant::now();
    let senders: Vec<_> = devices
        .iter()
        .cloned()
        .map(|pages| {
            let fleet = Arc::clone(&fleet);
            tokio::spawn(async move {
                let mut stored = 0;
                for page in pages {
                    stored += fleet.push(&page, vessel, None, None).await?.stored;
                }
                Ok::<u64, server::fleet::FleetError>(stored)
            })
        })
        .collect();
    let mut stored = 0;
    for sender in senders {
        stored += sender.await??;
    }
    let took = start.elapsed();
    let expected = usize::from(DEVICES) * RUNS * RECORDS;
    assert_eq!(usize::try_from(stored)?, expected, "every record is stored");
    store.close().await;
    Ok(took)
}

fn page(records: &[VerifiedRecord]) -> Vec<u8> {
    records.iter().flat_map(|r| r.bytes().to_vec()).collect()
}

#[tokio::main]
async fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut authority = Pen::new(SoftKey::from_seed([7; 32]), "ship");
    let vessel = authority.key.public().vessel();
    let pen = |number: u8| {
        Pen::new(
            SoftKey::from_seed([100 + number; 32]),
            &format!("hand-{number}"),
        )
    };
    let mut pens: Vec<Pen> = (0..DEVICES).map(pen).collect();
    let standing = page(&standing(&mut authority, &pens));
    let mut signed = Vec::new();
    let mut devices = Vec::new();
    for pen in &mut pens {
        let records = work(pen, vessel);
        let key = VerifyingKey::from_bytes(pen.key.public().as_bytes())?;
        for record in &records {
            let unsigned = record.envelope().draft().clone().to_be_signed()?;
            let signature = Signature::from_bytes(record.envelope().signature());
            signed.push((key, unsigned.bytes().to_vec(), signature));
        }
        devices.push(records.chunks(PAGE).map(page).collect::<Vec<_>>());
    }
    let count = signed.len() as f64;
    let mut rounds = Vec::new();
    // A short round shows that this still works; nobody reads its figures.
    let is_short = std::env::var("CLEARHAWSE_BENCH").is_ok_and(|round| round == "short");
    let times = if is_short { 1 } else { ROUNDS };
    for _ in 0..times {
        let bare = count / bare(&signed).as_secs_f64();
        let taken = ingest(&authority.key, &standing, &devices).await?;
        let taken = count / taken.as_secs_f64();
        rounds.push((taken / bare, bare, taken));
    }
    rounds.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (ratio, bare, taken) = rounds[times / 2];
    println!("ingest: {count} records; bare verification {bare:.0}/s, the server {taken:.0}/s");
    println!(
        "bench\tserver ingest\t{ratio:.3}\tleast\t{BUDGET}\t{taken:.0}/s against {bare:.0}/s, bare verification"
    );
    Ok(())
}
