//! A year of heavy use on one server: how long it takes to start, what it holds, how soon a page is there and
//! how long readers wait while the settings change; each against its goal, and ten times as much against that.

#![expect(clippy::disallowed_methods, reason = "a benchmark measures time")]

mod vessel;

use journal::board::{self, BoardNews};
use record::{RecordId, SoftKey};
use server::fleet::Fleet;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use vessel::Vessel;

type Fault = Box<dyn std::error::Error + Send + Sync>;

/// Records of a run.
const EACH: usize = 100;
/// Runs that are under way at the end.
const OPEN: usize = 20;
/// Runs of a year of heavy use.
const YEAR: usize = 3_000;
/// Runs of a short round.
const SHORT: usize = 400;
/// Entries of the run that nobody closes.
const ENDLESS: usize = 30_000;
/// Set for the process that measures: the server's folder, and whether it is the first to start there.
const FOLDER: &str = "CLEARHAWSE_YEAR_FOLDER";
const FIRST: &str = "CLEARHAWSE_YEAR_FIRST";
/// Before the figures of such a process.
const FIGURES: &str = "figures: ";

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

/// What is put in after the start: the files with the pages, beside the store.
#[derive(Debug, Clone)]
struct Next {
    /// The master changes the settings.
    settings: PathBuf,
    /// Somebody ticks a step of an open run.
    tick: PathBuf,
}

impl Next {
    fn beside(folder: &Path) -> Self {
        Self {
            settings: folder.join("settings"),
            tick: folder.join("tick"),
        }
    }
}

async fn fill(folder: &Path, runs: usize) -> Result<(), Fault> {
    let store = storage::open(&server::settings::default_store(folder)).await?;
    let mut vessel = Vessel::new();
    let own = SoftKey::from_seed([7; 32]);
    drop(Fleet::open(Arc::clone(&store), Some(own)).await?);
    let standing = vessel.standing();
    vessel::store(&store, standing).await?;
    let mut waiting = Vec::new();
    let mut last = None;
    for number in 0..runs {
        let run = vessel.run(EACH, number + OPEN < runs);
        last = run.first().map(|start| start.id());
        waiting.extend(run);
        if waiting.len() > 20_000 {
            vessel::store(&store, std::mem::take(&mut waiting)).await?;
        }
    }
    // One run of which nobody stops writing.
    waiting.extend(vessel.run(ENDLESS.min(runs * 10), false));
    vessel::store(&store, waiting).await?;
    store.close().await;
    let next = Next::beside(folder);
    std::fs::write(next.settings, vessel.settings(1).bytes())?;
    let slug = vessel::slug_of(runs - 1);
    let tick = vessel.tick(last.ok_or("no run")?, slug, 3);
    std::fs::write(next.tick, tick.bytes())?;
    Ok(())
}

/// Draws every page that the server has of a vessel; returns the longest time, ms.
async fn pages(fleet: &Fleet, runs: &[RecordId], now_ms: i64) -> Result<f64, Fault> {
    let vessel = fleet.own_vessel().ok_or("no vessel")?;
    let mut longest: f64 = 0.0;
    macro_rules! page {
        ($name:literal, $made:expr) => {{
            let begin = Instant::now();
            let text = serde_json::to_string(&$made)?;
            let took = begin.elapsed().as_secs_f64() * 1000.0;
            println!("  {}: {took:.1} ms, {} bytes", $name, text.len());
            longest = longest.max(took);
        }};
    }
    page!("board", fleet.board(vessel).await?);
    page!("runs", fleet.vessel_page(vessel, None, now_ms).await?);
    // The last is under way and in memory; those before the other two are not.
    for before in runs.iter().rev() {
        page!(
            "runs before",
            fleet.vessel_page(vessel, Some(*before), now_ms).await?
        );
    }
    for run in runs {
        let most = board::RECORDS_SHOWN;
        page!("a run", fleet.run_page(vessel, *run, most, now_ms).await?);
    }
    let draw = |ledger: &journal::Ledger| journal::catalogue::defects_page(ledger, now_ms);
    page!("defects", fleet.with(vessel, draw).await?);
    let draw = |ledger: &journal::Ledger| journal::catalogue::rounds_page(ledger, now_ms);
    page!("rounds", fleet.with(vessel, draw).await?);
    page!(
        "settings",
        fleet
            .with(vessel, journal::catalogue::settings_page)
            .await?
    );
    page!(
        "procedures",
        fleet.with(vessel, journal::catalogue::procedures).await?
    );
    page!("crew", fleet.crew().await?);
    Ok(longest)
}

/// Puts a page in while somebody reads all the time; returns how long they waited at most, ms.
async fn while_reading(fleet: &Arc<Fleet>, page: &Path) -> Result<f64, Fault> {
    let vessel = fleet.own_vessel().ok_or("no vessel")?;
    let (done, reader) = (Arc::new(AtomicBool::new(false)), Arc::clone(fleet));
    let until = Arc::clone(&done);
    let waits = tokio::spawn(async move {
        let mut longest = Duration::ZERO;
        while !until.load(Ordering::Relaxed) {
            let begin = Instant::now();
            let read = reader.with(vessel, journal::Ledger::len).await;
            longest = longest.max(begin.elapsed());
            read?;
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        Ok::<_, server::fleet::FleetError>(longest)
    });
    tokio::time::sleep(Duration::from_millis(20)).await;
    let begin = Instant::now();
    let reply = fleet
        .push(&std::fs::read(page)?, vessel, None, None)
        .await?;
    assert_eq!(reply.stored, 1, "it is taken: {reply:?}");
    let took = begin.elapsed().as_secs_f64() * 1000.0;
    println!("  {}: taken in {took:.1} ms", page.display());
    done.store(true, Ordering::Relaxed);
    Ok(waits.await??.as_secs_f64() * 1000.0)
}

/// Returns the largest event of a stream that begins and then sees a tick, kB as sent.
async fn messages(fleet: &Arc<Fleet>, tick: &Path) -> Result<(f64, f64), Fault> {
    let vessel = fleet.own_vessel().ok_or("no vessel")?;
    let mut headers = axum::http::HeaderMap::new();
    headers.insert(
        "accept-encoding",
        axum::http::HeaderValue::from_static("gzip"),
    );
    let mut writer = server::live::Writer::new(&headers);
    let before = fleet.board(vessel).await?;
    let waited = while_reading(fleet, tick).await?;
    let now = fleet.board(vessel).await?;
    let mut largest: f64 = 0.0;
    let whole = serde_json::to_string(&now)?.len();
    for (name, news) in [
        ("at first", BoardNews::whole(&before)),
        ("a tick", BoardNews::between(&before, &now)),
    ] {
        let mut sent = Vec::new();
        for part in news.into_parts() {
            sent.push(writer.event("news", &serde_json::to_string(&part)?)?.len());
        }
        let most = sent.iter().copied().max().unwrap_or(0) as f64 / 1000.0;
        let all = sent.iter().sum::<usize>() as f64 / 1000.0;
        println!(
            "  news {name}: {all:.1} kB in {} events, the largest {most:.1} kB, of a board of {whole} bytes",
            sent.len()
        );
        largest = largest.max(most);
    }
    Ok((largest, waited))
}

/// Measures in a process of its own, so that nothing of the filling stays in memory.
async fn measure(folder: &Path, is_first: bool) -> Result<Measured, Fault> {
    let mut measured = Measured::default();
    let begin = Instant::now();
    let store = storage::open(&server::settings::default_store(folder)).await?;
    let own = SoftKey::from_seed([7; 32]);
    let fleet = Arc::new(Fleet::open(Arc::clone(&store), Some(own)).await?);
    measured.start_s = begin.elapsed().as_secs_f64();
    measured.memory_mb = memory_mb();
    println!(
        "  start: {:.2} s, {:.0} MB, {:?}",
        measured.start_s,
        measured.memory_mb,
        fleet.held().await
    );
    if is_first {
        store.close().await;
        return Ok(measured);
    }
    let vessel = fleet.own_vessel().ok_or("no vessel")?;
    let newest = fleet.with(vessel, |ledger| {
        let mut runs: Vec<_> = ledger
            .runs()
            .values()
            .map(|file| (file.newest_ms, file.id))
            .collect();
        runs.sort_unstable();
        runs
    });
    let newest = newest.await?;
    let chosen = [0, newest.len() / 2, newest.len() - 1].map(|at| newest[at].1);
    let now_ms = newest
        .last()
        .map_or(0, |(newest_ms, _)| newest_ms + 3_600_000);
    measured.page_ms = pages(&fleet, &chosen, now_ms).await?;
    let next = Next::beside(folder);
    measured.waiting_ms = while_reading(&fleet, &next.settings).await?;
    let (message_kb, waited) = messages(&fleet, &next.tick).await?;
    measured.message_kb = message_kb;
    measured.waiting_ms = measured.waiting_ms.max(waited);
    measured.memory_mb = measured.memory_mb.max(memory_mb());
    println!(
        "  at the end: {:.0} MB, {:?}",
        memory_mb(),
        fleet.held().await
    );
    store.close().await;
    Ok(measured)
}

fn in_a_process_of_its_own(folder: &Path, is_first: bool) -> Result<Measured, Fault> {
    let mut command = std::process::Command::new(std::env::current_exe()?);
    if is_first {
        command.env(FIRST, "yes");
    }
    let told = command.env(FOLDER, folder).output()?;
    let text = String::from_utf8(told.stdout)?;
    print!("{text}");
    if !told.status.success() {
        return Err(String::from_utf8_lossy(&told.stderr).into_owned().into());
    }
    let line = text.lines().find_map(|line| line.strip_prefix(FIGURES));
    let mut figures = line
        .unwrap_or_default()
        .split_whitespace()
        .map(str::parse::<f64>);
    let mut figure = || {
        figures
            .next()
            .ok_or("too few figures")?
            .map_err(Fault::from)
    };
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
    let begin = Instant::now();
    fill(folder.path(), runs).await?;
    println!(
        "{runs} runs are made in {:.1} s",
        begin.elapsed().as_secs_f64()
    );
    // The first start is that of a store of an earlier program: nothing is kept beside the records yet.
    in_a_process_of_its_own(folder.path(), true)?;
    in_a_process_of_its_own(folder.path(), false)
}

fn row(name: &str, measured: f64, goal: f64, what: &str) {
    let ratio = measured / goal;
    println!("bench\t{name}\t{ratio:.3}\tmost\t1\t{measured:.1} of {goal} {what}");
}

fn main() -> Result<(), Fault> {
    server::allocator::share_one_pool();
    let runtime = tokio::runtime::Runtime::new()?;
    if let Some(folder) = std::env::var_os(FOLDER) {
        let is_first = std::env::var_os(FIRST).is_some();
        let m = runtime.block_on(measure(Path::new(&folder), is_first))?;
        println!(
            "{FIGURES}{} {} {} {} {}",
            m.start_s, m.memory_mb, m.page_ms, m.waiting_ms, m.message_kb
        );
        return Ok(());
    }
    // A short round shows that this still works; nobody reads its figures.
    let is_short = std::env::var("CLEARHAWSE_BENCH").is_ok_and(|round| round == "short");
    let year = if is_short { SHORT } else { YEAR };
    // Ten years take a quarter of an hour: who wants them asks for them.
    let years = std::env::var("CLEARHAWSE_YEARS").ok();
    let years: usize = years.map_or(Ok(1), |years| years.parse())?;
    let part = runtime.block_on(scale(year / 10))?;
    let whole = runtime.block_on(scale(year))?;
    row("a year's start", whole.start_s, 3.0, "s");
    row("a year's memory", whole.memory_mb, 150.0, "MB");
    row("a year's slowest page", whole.page_ms, 100.0, "ms");
    row(
        "waiting while the settings change",
        whole.waiting_ms,
        100.0,
        "ms",
    );
    row(
        "largest event of the live board",
        whole.message_kb,
        16.0,
        "kB, 20 runs open",
    );
    let times = |name: &str, more: f64, less: f64| {
        row(
            &format!("ten times as much, {name}"),
            more / less,
            10.0,
            "times",
        );
    };
    times("start", whole.start_s, part.start_s);
    times("memory", whole.memory_mb, part.memory_mb);
    times("slowest page", whole.page_ms, part.page_ms);
    if years > 1 {
        let many = runtime.block_on(scale(year * years))?;
        times("start, years", many.start_s, whole.start_s);
        times("memory, years", many.memory_mb, whole.memory_mb);
        times("slowest page, years", many.page_ms, whole.page_ms);
    }
    Ok(())
}
