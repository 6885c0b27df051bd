//! The command line.

use crate::clock::now_ms;
use crate::folder_lock::{FolderLock, LockError};
use crate::settings::{LogForm, ServeArguments, Settings, default_store};
use crate::{authority, demo, export, serve};
use clap::{Parser, Subcommand};
use journal::board::CLOCK_TOLERANCE_MS;
use journal::body::{Body, kind};
use record::export::{Bounds, Older, Report, Since, check_since, verify_export};
use std::error::Error;
use std::io::{BufRead as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use storage::RecordStore;

mod rehearse;
mod watch;

/// Foredeck checklists that work out of range, signed, synced and checked.
#[derive(Debug, Parser)]
#[command(name = "clearhawse", version, about)]
pub struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Show, copy, restore or protect the ship's key.
    #[command(subcommand)]
    Authority(authority::command::KeyCommand),
    /// Serve the ship (or the office): pages, sync, live board.
    Serve(Box<ServeArguments>),
    /// Write the demo's vessels, crews and records into an empty data folder.
    Demo {
        /// Folder of the server's data.
        #[arg(long, env = "CLEARHAWSE_DATA", value_name = "DIR")]
        data: PathBuf,
    },
    /// Make a one-time code that enrols a person on a device: for the master whose phone is lost, and for
    /// the demo. Anyone else gets theirs from the master, on the crew's page.
    Code {
        /// Folder of the server's data.
        #[arg(long, env = "CLEARHAWSE_DATA", value_name = "DIR")]
        data: PathBuf,
        /// Where records are kept, if not in the data folder.
        #[arg(
            long,
            env = "CLEARHAWSE_STORE",
            value_name = "URI",
            hide_env_values = true
        )]
        store: Option<String>,
        /// For everyone on the crew list.
        #[arg(long)]
        all: bool,
        /// Who, as the crew list names them: identity or name.
        #[arg(required_unless_present = "all")]
        person: Vec<String>,
    },
    /// Write a vessel's signed records, and the keys to check them, into one file.
    Export {
        /// Folder of the server's data.
        #[arg(long, env = "CLEARHAWSE_DATA", value_name = "DIR")]
        data: PathBuf,
        /// The vessel's name or identity; may be left out where there is only one.
        #[arg(long, value_name = "NAME")]
        vessel: Option<String>,
        /// The file to write.
        #[arg(long, value_name = "FILE")]
        out: PathBuf,
        #[command(flatten)]
        passphrase: authority::command::PassphraseFile,
    },
    /// Check an exported file without a server: signatures, credentials, chains, the log. One line for each
    /// fault; exit status 1 on any.
    Verify {
        /// The exported file.
        file: PathBuf,
        /// An older export, or an older signed head of the log: nothing of it may be changed or gone.
        #[arg(long, value_name = "OLDER")]
        since: Option<PathBuf>,
    },
    /// Try a procedure's file with invented people and an invented clock.
    ///
    /// Without --events it works the procedure to its end as people would who do what it asks, and writes each act as a JSON line:
    /// {"at_s":60,"who":"hand","what":{"done":{"step":"party","outcome":"confirmed"}}}. `at_s` counts seconds from the start; `who` is
    /// hand, second, officer or master; `what` is an event as an export writes it. Another act is named by its number, the first 1, in
    /// 64 hexadecimal digits. With --events it plays such lines and writes, for each, as a JSON line: what was refused and why, which
    /// steps are open and passed, and what alarms. What other runs would have to be is not judged.
    Rehearse {
        /// The procedure's file.
        file: PathBuf,
        /// The acts to play; - for standard input.
        #[arg(long, value_name = "FILE")]
        events: Option<PathBuf>,
    },
    /// Replay a night at anchor: what the anchor watch would have said, and when.
    ///
    /// The night has a line for each sentence of the instruments (NMEA 0183): milliseconds since 1970 in UTC, a space, the sentence from
    /// its `$` or `!`. Time passes by the lines alone. The setup is JSON: {"anchor":{"lat":..,"lon":..},"cable_m":..,"depth_m":..,
    /// "hawse_height_m":..,"length_m":..,"antenna":{"forward_m":..,"starboard_m":..},"wind_limits_kn":{"call":..,"engines":..,"weigh":..},
    /// "ukc_min_m":..,"draught_m":..}, the antenna counted from the hawse, so that one aft of it has forward_m below 0; what is
    /// missing is unknown. Writes a JSON line for each alarm that is raised, changed or cleared, and a last one with what was read.
    Watch {
        /// The night; - for standard input.
        #[arg(long, value_name = "NIGHT")]
        replay: PathBuf,
        /// What is known of the ship and her anchor.
        #[arg(long, value_name = "SETUP")]
        setup: PathBuf,
    },
    /// Reckon a sum: cases as JSON lines on standard input, answers as JSON lines on standard output.
    Reckon {
        /// Which sum.
        #[arg(required_unless_present = "list")]
        name: Option<String>,
        /// Name the sums with their kinds, fields and units.
        #[arg(long)]
        list: bool,
    },
}

type Opened = (Arc<dyn RecordStore>, Option<FolderLock>);
type Done = Result<ExitCode, Box<dyn Error>>;

/// Carries the command out on threads of its own, and returns when it has ended.
///
/// What an `async` function does is compiled in the crate whose plain code calls it. That is this one, once, and not each
/// program that starts a server, the whole of it again.
pub fn run_to_end(arguments: Arguments) -> ExitCode {
    crate::allocator::share_one_pool();
    match tokio::runtime::Runtime::new() {
        Ok(runtime) => runtime.block_on(run(arguments)),
        Err(error) => {
            eprintln!("clearhawse: no threads to work with: {error}");
            ExitCode::FAILURE
        }
    }
}

/// Runs one command; what went wrong is told on standard error, with its causes.
pub async fn run(arguments: Arguments) -> ExitCode {
    let done = match arguments.command {
        Command::Authority(command) => authority_command(&command),
        Command::Serve(given) => serve_command(*given).await,
        Command::Demo { data } => demo_command(&data).await,
        Command::Code {
            data,
            store,
            all,
            person,
        } => code_command(&data, store, all, &person).await,
        Command::Export {
            data,
            vessel,
            out,
            passphrase,
        } => export_command(&data, vessel, &out, &passphrase.source()).await,
        Command::Verify { file, since } => verify_command(&file, since.as_deref()),
        Command::Rehearse { file, events } => rehearse::command(&file, events.as_deref()),
        Command::Watch { replay, setup } => watch::command(&replay, &setup),
        Command::Reckon { name, .. } => reckon_command(name.as_deref()),
    };
    done.unwrap_or_else(|error| {
        eprintln!("clearhawse: {}", crate::api::error::told(&*error));
        ExitCode::from(2)
    })
}

fn log_to_stderr(form: LogForm) {
    let filter = tracing_subscriber::EnvFilter::try_from_env("CLEARHAWSE_LOG_FILTER")
        .unwrap_or_else(|_| tracing_subscriber::EnvFilter::new("info,tower_http=warn"));
    let builder = tracing_subscriber::fmt()
        .with_env_filter(filter)
        .with_writer(std::io::stderr)
        // A log on a disk that is full must not take the server with it.
        .log_internal_errors(false);
    match form {
        LogForm::Text => builder.init(),
        LogForm::Json => builder.json().init(),
    }
}

async fn asked_to_stop() {
    let interrupt = async {
        // Without a handler for it the default holds, which also stops.
        let _ = tokio::signal::ctrl_c().await;
    };
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut terminate) = signal(SignalKind::terminate()) {
            tokio::select! {
                () = interrupt => {}
                _ = terminate.recv() => {}
            }
            return;
        }
    }
    interrupt.await;
}

async fn serve_command(given: ServeArguments) -> Done {
    let settings = Settings::gather(given)?;
    log_to_stderr(settings.log);
    serve::run(&settings, asked_to_stop()).await?;
    Ok(ExitCode::SUCCESS)
}

fn authority_command(command: &authority::command::KeyCommand) -> Done {
    println!("{}", authority::command::run(command)?);
    Ok(ExitCode::SUCCESS)
}

async fn demo_command(data: &Path) -> Done {
    std::fs::create_dir_all(data)?;
    let told = demo::write(data, now_ms()).await?;
    println!("{told}");
    Ok(ExitCode::SUCCESS)
}

/// Opens a store for a command that only reads it: while a server works there, without a chance to write.
async fn open_beside(data: &Path, store: &str) -> Result<Opened, Box<dyn Error>> {
    match FolderLock::take(data, store) {
        Ok(lock) => Ok((storage::open(store).await?, Some(lock))),
        Err(LockError::Taken { .. }) => Ok((storage::open_to_read(store).await?, None)),
        Err(error) => Err(error.into()),
    }
}

async fn code_command(data: &Path, store: Option<String>, all: bool, wanted: &[String]) -> Done {
    let store = store.unwrap_or_else(|| default_store(data));
    // Whose ship it is stands in the open; no passphrase is needed for a code.
    let own = authority::read(&data.join(authority::FILE))?
        .ok_or_else(|| format!("there is no ship's key in {}", data.display()))?
        .public();
    let (store, _lock) = open_beside(data, &store).await?;
    let fleet = crate::fleet::Fleet::open(store.clone(), None).await?;
    fleet.pin(own).await?;
    let crew = fleet.with(own.vessel(), |ledger| {
        ledger.particulars().map(|body| body.crew.clone())
    });
    let crew = crew.await?.unwrap_or_default();
    store.close().await;
    let is = |person: &journal::Person, name: &String| {
        person.id == *name || person.name.eq_ignore_ascii_case(name)
    };
    if let Some(unknown) = wanted
        .iter()
        .find(|name| !crew.iter().any(|person| is(person, name)))
    {
        let known: Vec<&str> = crew.iter().map(|person| person.id.as_str()).collect();
        return Err(format!(
            "nobody on the crew list is called {unknown:?}; there are: {}",
            known.join(", ")
        )
        .into());
    }
    let codes = crate::codes::Codes::of(data);
    for person in crew
        .iter()
        .filter(|person| all || wanted.iter().any(|name| is(person, name)))
    {
        let code = codes.make(&person.id, now_ms())?;
        let until = chrono::DateTime::from_timestamp_millis(code.expires_ms)
            .map_or_else(String::new, |at| at.format("%H:%M UTC").to_string());
        println!(
            "Code for {}, {}: {} (good until {until}, once)",
            person.name,
            person.rank,
            code.printed()
        );
    }
    Ok(ExitCode::SUCCESS)
}

async fn export_command(
    data: &Path,
    vessel: Option<String>,
    out: &Path,
    passphrase: &authority::passphrase::PassphraseSource,
) -> Done {
    if !data.is_dir() {
        return Err(format!("there is no data folder {}", data.display()).into());
    }
    let (store, _lock) = open_beside(data, &default_store(data)).await?;
    let own = authority::load_unasked(data, passphrase)?;
    let fleet = crate::fleet::Fleet::open(store.clone(), own).await?;
    fleet.heads().keep_in(data)?;
    let known = fleet
        .each(|ledger| journal::board::vessel_card(ledger, now_ms()))
        .await;
    let fits = |card: &&journal::board::VesselCard| match &vessel {
        None => true,
        Some(wanted) => card.name.eq_ignore_ascii_case(wanted) || card.id.to_string() == *wanted,
    };
    let found: Vec<_> = known.iter().filter(fits).collect();
    let [card] = found.as_slice() else {
        let names: Vec<&str> = known.iter().map(|card| card.name.as_str()).collect();
        let which = vessel.map_or_else(
            || "say which vessel with --vessel".to_owned(),
            |wanted| format!("there is no vessel {wanted:?}"),
        );
        return Err(format!("{which}; there are: {}", names.join(", ")).into());
    };
    let bytes = export::whole(&fleet, card.id).await?;
    std::fs::write(out, &bytes)?;
    store.close().await;
    println!(
        "{} records of {} in {}",
        card.records,
        card.name,
        out.display()
    );
    Ok(ExitCode::SUCCESS)
}

fn read(file: &Path) -> Result<Vec<u8>, String> {
    std::fs::read(file).map_err(|error| format!("{} cannot be read: {error}", file.display()))
}

fn verify_command(file: &Path, since: Option<&Path>) -> Done {
    let report = verify_export(&read(file)?);
    for fault in &report.faults {
        println!("{fault}");
    }
    if !report.faults.is_empty() {
        println!(
            "{} faults in {} records",
            report.faults.len(),
            report.records.len()
        );
        return Ok(ExitCode::from(1));
    }
    println!(
        "{} records hold: every signature, credential and chain",
        report.records.len()
    );
    say_vessel(&report);
    match (&report.checkpoint, &report.header) {
        (Some(checkpoint), Some(header)) => {
            let office = header.log.as_ref().and_then(|log| log.office);
            let key = office.unwrap_or(header.authority);
            println!(
                "they stand in the log {} of {} records, root {}, signed by key {}",
                checkpoint.origin,
                checkpoint.head.size,
                record::hex::encode(&checkpoint.head.root),
                record::hex::encode(key.as_bytes()),
            );
        }
        _ => println!("no signed head of a log: nothing says that none was left out"),
    }
    say_times(&report);
    match since {
        None => Ok(ExitCode::SUCCESS),
        Some(older) => since_command(&report, older),
    }
}

/// Says whose records they are, and by what people compare her key with the one aboard.
fn say_vessel(report: &Report) {
    let Some(header) = &report.header else {
        println!("no header: nothing says whose records these are");
        return;
    };
    let authority = header.authority.device();
    let by_authority = report.records.iter();
    let by_authority = by_authority.filter(|record| record.device() == authority);
    let bodies = by_authority.filter(|record| record.kind() == kind::VESSEL);
    let newest = bodies.max_by_key(|record| record.hlc());
    let newest = newest.and_then(|record| Body::decode(record.kind(), record.body()).ok());
    let name = match newest {
        Some(Body::Vessel(body)) if !body.name.is_empty() => body.name,
        _ => "a vessel without a name".to_owned(),
    };
    println!(
        "they are of {name}, vessel {}; her key's fingerprint is {}: compare it with the one that her server prints",
        header.vessel,
        header.authority.fingerprint(),
    );
}

/// Says what the ship's receipts say of the times, and which records lie outside of them.
fn say_times(report: &Report) {
    let count = |has: fn(&Bounds) -> bool| report.bounds.values().filter(|b| has(b)).count();
    println!(
        "receipts say of {} records not after when they were made, of {} not before when",
        count(|bounds| bounds.not_after_ms.is_some()),
        count(|bounds| bounds.not_before_ms.is_some()),
    );
    for record in &report.records {
        let Some(bounds) = report.bounds.get(&record.id()) else {
            continue;
        };
        let outside_ms = bounds.outside_ms(record.time_ms());
        if outside_ms > CLOCK_TOLERANCE_MS {
            let at = |ms: Option<i64>| ms.map_or_else(|| "unknown".to_owned(), export::time);
            println!(
                "record {} of device {}, number {}: its device's time {} is {} s outside; not before {}, not after {}",
                record.id(),
                record.device(),
                record.seq(),
                export::time(record.time_ms()),
                outside_ms / 1000,
                at(bounds.not_before_ms),
                at(bounds.not_after_ms),
            );
        }
    }
}

fn since_command(report: &Report, older: &Path) -> Done {
    let bytes = read(older)?;
    let (found, named) = match std::str::from_utf8(&bytes) {
        Ok(note) if note.starts_with("clearhawse/") => {
            (check_since(report, Older::Head(note)), "the older head")
        }
        _ => {
            let old = verify_export(&bytes);
            if !old.is_sound() {
                let (faults, path) = (old.faults.len(), older.display());
                println!("the older export {path} has {faults} faults itself: verify it first");
                return Ok(ExitCode::from(1));
            }
            let found = check_since(report, Older::Export(&old));
            (found, "the older export")
        }
    };
    match found {
        Ok(Since::Extends { added }) => {
            println!("nothing of {named} is changed or gone, and {added} records were added");
            Ok(ExitCode::SUCCESS)
        }
        Ok(Since::Restored(restore)) => {
            println!(
                "{named} has records that the log lost: it says that it was put back from a backup of {} \
                 records when it had {}",
                restore.kept, restore.lost
            );
            Ok(ExitCode::from(1))
        }
        Err(fault) => {
            println!("{fault}");
            Ok(ExitCode::from(1))
        }
    }
}

fn reckon_command(name: Option<&str>) -> Done {
    let sums = seamanship::reckon::list();
    let Some(name) = name else {
        println!("{}", serde_json::to_string_pretty(&sums)?);
        return Ok(ExitCode::SUCCESS);
    };
    if !sums.iter().any(|sum| sum.name == name) {
        let known: Vec<&str> = sums.iter().map(|sum| sum.name).collect();
        return Err(format!("there is no sum {name:?}; there are {}", known.join(", ")).into());
    }
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let line = line?;
        if !line.trim().is_empty() {
            writeln!(out, "{}", seamanship::reckon::reckon_line(name, &line))?;
        }
    }
    Ok(ExitCode::SUCCESS)
}
