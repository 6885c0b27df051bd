//! A year of heavy use on one server: how long it takes to start, what it holds, how soon a page is there and
//! how long readers wait while the settings change; each against its goal, and ten times as much against that.

mod vessel;

use journal::board;
use record::{RecordId, VesselId};
use server::fleet::Fleet;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use vessel::Vessel;

type Fault = Box<dyn std::error::Error + Send + Sync>;

/// Records of a run.
const EACH: usize = 100;
/// Runs that are under way at the end.
const OPEN: usize = 20;
/// Set for the process that measures: the store's address.
const STORE: &str = "CLEARHAWSE_YEAR_STORE";

/// What one process measured.
#[derive(Debug, Clone, Copy, Default)]
struct Measured {
    start_s: f64,
    memory_mb: f64,
    page_ms: f64,
    waiting_ms: f64,
    message_kb: f64,
}

fn memory_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmRSS:"));
    let kb = line.and_then(|line| line.split_whitespace().nth(1)?.parse::<f64>().ok());
    kb.unwrap_or(0.0) / 1000.0
}

async fn fill(address: &str, runs: usize) -> Result<Vessel, Fault> {
    let store = storage::open(address).await?;
    let mut vessel = Vessel::new();
    let fleet = Fleet::open(Arc::clone(&store), None).await?;
    fleet.pin(vessel.authority.public()).await?;
    drop(fleet);
    let standing = vessel.standing();
    vessel::store(&store, standing).await?;
    let mut waiting = Vec::new();
    for number in 0..runs {
        waiting.extend(vessel.run(EACH, number + OPEN < runs));
        if waiting.len() > 20_000 {
            vessel::store(&store, std::mem::take(&mut waiting)).await?;
        }
    }
    vessel::store(&store, waiting).await?;
    store.close().await;
    Ok(vessel)
}

/// Draws every page that the server has of a vessel; returns the longest time, ms, and which.
async fn pages(fleet: &Fleet, vessel: VesselId, run: RecordId, now_ms: i64) -> Result<f64, Fault> {
    let mut longest: f64 = 0.0;
    macro_rules! page {
        ($name:literal, $made:expr) => {{
            let begin = Instant::now();
            let text = serde_json::to_string(&$made)?;
            let took = begin.elapsed().as_secs_f64() * 1000.0;
            eprintln!("  {}: {took:.1} ms, {} bytes", $name, text.len());
            longest = longest.max(took);
        }};
    }
    page!("board", fleet.board(vessel).await?);
    page!("board again", fleet.board(vessel).await?);
    page!("runs", fleet.vessel_page(vessel, None, now_ms).await?);
    let most = board::RECORDS_SHOWN;
    page!("a run", fleet.run_page(vessel, run, most, now_ms).await?);
    let draw = |ledger: &journal::Ledger| journal::catalogue::defects_page(ledger, now_ms);
    page!("defects", fleet.with(vessel, draw).await?);
    let draw = |ledger: &journal::Ledger| journal::catalogue::rounds_page(ledger, now_ms);
    page!("rounds", fleet.with(vessel, draw).await?);
    page!("settings", fleet.with(vessel, journal::catalogue::settings_page).await?);
    page!("procedures", fleet.with(vessel, journal::catalogue::procedures).await?);
    Ok(longest)
}

/// Measures in a process of its own, so that nothing of the filling stays in memory.
async fn measure(address: &str, runs: usize) -> Result<Measured, Fault> {
    let mut vessel = Vessel::new();
    let _ = vessel.standing();
    let mut measured = Measured::default();
    let begin = Instant::now();
    let store = storage::open(address).await?;
    let fleet = Arc::new(Fleet::open(Arc::clone(&store), None).await?);
    measured.start_s = begin.elapsed().as_secs_f64();
    measured.memory_mb = memory_mb();
    let id = vessel.id();
    let rest = store.arrivals(id, 0, 20 + EACH * 3).await?;
    let start = rest.iter().filter_map(|row| record::Envelope::decode(&row.bytes).ok());
    let start = start.filter(|record| record.kind() == journal::body::kind::RUN && record.run().is_none());
    let run = start.map(|record| record.id()).next().ok_or("no run")?;
    let now_ms = vessel::BEGIN_MS + i64::try_from(runs * EACH + 10_000)? * 100_000;
    measured.page_ms = pages(&fleet, id, run, now_ms).await?;
    eprintln!("  start: {:.2} s, {:.0} MB", measured.start_s, measured.memory_mb);
    // The master's chain goes on where it ended: the filler put the next record aside.
    let page = std::fs::read(std::env::var("CLEARHAWSE_YEAR_NEXT")?)?;
    let (done, reader) = (Arc::new(AtomicBool::new(false)), Arc::clone(&fleet));
    let until = Arc::clone(&done);
    let waits = tokio::spawn(async move {
        let mut longest = Duration::ZERO;
        while !until.load(Ordering::Relaxed) {
            let begin = Instant::now();
            let _ = reader.with(id, |ledger| ledger.len()).await;
            longest = longest.max(begin.elapsed());
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        longest
    });
    tokio::time::sleep(Duration::from_millis(20)).await;
    let begin = Instant::now();
    if std::env::var_os("CLEARHAWSE_YEAR_FIRST").is_some() {
        store.close().await;
        return Ok(measured);
    }
    let reply = fleet.push(&page, id, None, None).await?;
    assert_eq!(reply.stored, 1, "the settings are taken: {reply:?}");
    eprintln!("  settings: {:.1} ms", begin.elapsed().as_secs_f64() * 1000.0);
    done.store(true, Ordering::Relaxed);
    measured.waiting_ms = waits.await?.as_secs_f64() * 1000.0;
    measured.memory_mb = measured.memory_mb.max(memory_mb());
    store.close().await;
    Ok(measured)
}

fn in_a_process_of_its_own(
    address: &str,
    runs: usize,
    next: &Path,
    is_first: bool,
) -> Result<Measured, Fault> {
    let mut command = std::process::Command::new(std::env::current_exe()?);
    if is_first {
        command.env("CLEARHAWSE_YEAR_FIRST", "yes");
    }
    let told = command
        .env(STORE, address)
        .env("CLEARHAWSE_YEAR_RUNS", runs.to_string())
        .env("CLEARHAWSE_YEAR_NEXT", next)
        .stderr(std::process::Stdio::inherit())
        .output()?;
    let text = String::from_utf8(told.stdout)?;
    let mut figures = text.split_whitespace().map(str::parse::<f64>);
    let mut figure = || figures.next().ok_or("too few figures")?.map_err(Fault::from);
    Ok(Measured {
        start_s: figure()?,
        memory_mb: figure()?,
        page_ms: figure()?,
        waiting_ms: figure()?,
        message_kb: figure()?,
    })
}

async fn scale(runs: usize) -> Result<Measured, Fault> {
    let folder = tempfile::tempdir()?;
    let address = server::settings::default_store(folder.path());
    let begin = Instant::now();
    let mut vessel = fill(&address, runs).await?;
    let next = folder.path().join("next");
    std::fs::write(&next, vessel.settings(1).bytes())?;
    eprintln!("{runs} runs are made in {:.1} s", begin.elapsed().as_secs_f64());
    // The first start is that of a store of an earlier program: nothing is kept beside the records yet.
    in_a_process_of_its_own(&address, runs, &next, true)?;
    in_a_process_of_its_own(&address, runs, &next, false)
}

fn main() -> Result<(), Fault> {
    let runtime = tokio::runtime::Runtime::new()?;
    if let Ok(address) = std::env::var(STORE) {
        let runs = std::env::var("CLEARHAWSE_YEAR_RUNS")?.parse()?;
        let m = runtime.block_on(measure(&address, runs))?;
        println!(
            "{} {} {} {} {}",
            m.start_s, m.memory_mb, m.page_ms, m.waiting_ms, m.message_kb
        );
        return Ok(());
    }
    let is_short = std::env::var("CLEARHAWSE_BENCH").is_ok_and(|round| round == "short");
    let runs = std::env::var("YEAR_RUNS").map_or(if is_short { 40 } else { 3_000 }, |text| {
        text.parse().expect("a number")
    });
    let measured = runtime.block_on(scale(runs))?;
    println!("{measured:?}");
    Ok(())
}
