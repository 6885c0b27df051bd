//! Two weeks of simulated use of one server: what it holds at the end of each day is what it held after the first.

use super::*;
use crate::codes::Codes;
use crate::fleet::Held;
use crate::fleet::vessel::{Vessel, store as put};
use crate::rate_limit::{MOST, RateLimiter};
use journal::board::BoardNews;
use record::SoftKey;
use std::net::{IpAddr, Ipv4Addr};
use std::sync::Arc;

const HOUR_MS: i64 = 3_600_000;
const HERE: &str = "ship.local:8080";

/// What is held.
#[derive(Debug, Clone, Copy)]
struct Size {
    fleet: Held,
    sessions: usize,
    challenges: usize,
    addresses: usize,
    codes: usize,
    files: usize,
    set_aside: usize,
}

fn files_in(folder: &Path) -> usize {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .map(|entry| match entry.file_type() {
            Ok(kind) if kind.is_dir() => files_in(&entry.path()),
            _ => 1,
        })
        .sum()
}

fn memory_kb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_weeks_of_use_leave_no_more_in_memory_than_one_day() {
    let folder = tempfile::tempdir().unwrap();
    let url = format!("sqlite:{}", folder.path().join("records.sqlite").display());
    let store = storage::open(&url).await.unwrap();
    let own = SoftKey::from_seed([7; 32]);
    let mut vessel = Vessel::new();
    put(&store, vessel.standing()).await.unwrap();
    let fleet = Fleet::open(Arc::clone(&store), Some(SoftKey::from_seed([7; 32])));
    let fleet = Arc::new(fleet.await.unwrap());
    let id = fleet.own_vessel().unwrap();
    let mut now = 1_795_000_000_000 + HOUR_MS;
    let sessions = Sessions::open(folder.path(), now).unwrap();
    let codes = Codes::of(folder.path());
    let limiter = RateLimiter::new(now);
    let mut sizes = Vec::new();
    let mut memory = Vec::new();
    for day in 0..14_u32 {
        for hour in 0..24_u32 {
            now += HOUR_MS;
            // Everybody signs in; some ask for a challenge and never answer it.
            for seed in 100..106_u8 {
                let key = SoftKey::from_seed([seed; 32]);
                let asked = sessions.challenge(&own.public(), now).unwrap();
                drop(sessions.challenge(&own.public(), now).unwrap());
                let origin = format!("http://{HERE}");
                let claim =
                    journal::auth_messages::session_claim(&origin, &asked.server, &asked.challenge);
                let answer = ChallengeAnswer {
                    device: key.device(),
                    challenge: asked.challenge,
                    origin,
                    signature: record::hex::encode(&key.sign(claim.as_bytes())),
                };
                let signed_in = sessions.sign_in_at(&fleet, &answer, HERE, false, now);
                signed_in.await.expect("they are enrolled");
            }
            // Codes are handed out, and nobody brings them.
            codes.make(&format!("hand-{}", hour % 5), now).unwrap();
            // Strangers ask, each from another address.
            for number in 0..300_u32 {
                let address = Ipv4Addr::from(0x0a00_0000 + day * 9_000 + hour * 300 + number);
                limiter.take(Some(IpAddr::V4(address)), now);
            }
            // A watch is worked while the bridge looks on: what it missed is cut off now and then.
            let mut board = fleet.shared_board(id).await.unwrap();
            let run = vessel.run(8, true);
            for half in run.chunks(4) {
                let page: Vec<u8> = half.iter().flat_map(|r| r.bytes().to_vec()).collect();
                let reply = fleet.push_at(&page, id, None, Some(0), now).await.unwrap();
                assert_eq!(reply.stored, 4, "{reply:?}");
                let next = fleet.shared_board(id).await.unwrap();
                let news = BoardNews::between(&board, &next);
                let made = news.apply(Some((*board).clone()));
                assert!(made.is_ok_and(|made| made == *next));
                board = next;
            }
            // The office takes what it lacks, and somebody sends rubbish.
            let nothing = record::Vector::new();
            let lacking = store.lacking(id, &nothing, 20_000, 50);
            assert!(!lacking.await.unwrap().is_empty());
            let rubbish = [[0_u8; 9], [u8::try_from(hour).unwrap(); 9]].concat();
            let reply = fleet.push_at(&rubbish, id, None, None, now).await.unwrap();
            assert_eq!(reply.stored, 0);
            // Somebody looks at old runs.
            if let Some(start) = run.first() {
                let page = fleet.run_page(id, start.id(), 99, now).await.unwrap();
                assert!(page.is_some());
            }
        }
        let signed_in = lock(&sessions.table).len();
        sizes.push(Size {
            fleet: fleet.held().await,
            sessions: signed_in,
            challenges: sessions.challenges.remembered(),
            addresses: limiter.told_apart(),
            codes: files_in(&folder.path().join("codes")),
            files: files_in(folder.path()),
            set_aside: store.quarantined(5_000).await.unwrap().len(),
        });
        memory.extend(memory_kb());
    }
    let (early, late) = (sizes[5], sizes[13]);
    assert_eq!(late.fleet.runs + late.fleet.away, 14 * 24);
    assert!(late.fleet.away > 200, "{late:?}");
    assert!(late.fleet.looked_at <= 64, "{late:?}");
    assert_eq!(late.fleet.runs, early.fleet.runs, "{early:?} then {late:?}");
    assert!(
        late.fleet.records <= early.fleet.records + 30,
        "{early:?} then {late:?}"
    );
    assert!(late.sessions <= early.sessions && late.sessions <= 6 * MOST_OF_ONE);
    assert!(late.challenges <= 12, "{late:?}");
    assert!(late.addresses <= MOST, "{late:?}");
    assert!(late.codes <= 32, "{late:?}");
    assert!(late.files <= early.files + 2, "{early:?} then {late:?}");
    assert!(late.set_aside <= 1_000, "{late:?}");
    // How much memory that is nobody asserts; who looks sees it.
    if let (Some(early), Some(late)) = (memory.get(5), memory.last()) {
        println!(
            "memory after six days {early} kB, after fourteen {late} kB, ratio {:.2}",
            late / early
        );
    }
    store.close().await;
}
