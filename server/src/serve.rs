//! The server's life: from open store to closed.

mod clock_watch;
pub mod connections;
mod descriptors;
mod listeners;
pub mod places;

use crate::anchor_watch::{self, Desk};
use crate::clock::{now_ms, running_ms};
use crate::enrol::Enroller;
use crate::fleet::{Fleet, FleetError};
use crate::folder_lock::{FolderLock, LockError};
use crate::own_key::{self, OwnKeyError};
use crate::rate_limit::RateLimiter;
use crate::router::App;
use crate::session::Sessions;
use crate::settings::Settings;
use crate::{codes, relay, tls};
use listeners::Listeners;
use std::io::Write as _;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// How long requests under way may take to finish once the server closes.
const DRAIN: Duration = Duration::from_secs(5);

/// Between the runs that are looked at again after the start, so that the server serves meanwhile.
const BETWEEN_LOOKS: Duration = Duration::from_millis(500);

/// Why the server does not serve.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The data folder cannot be made.
    #[error("the data folder cannot be made")]
    Folder(#[source] std::io::Error),
    /// The ship's key.
    #[error(transparent)]
    Authority(#[from] crate::authority::AuthorityError),
    /// Another program works in the folder.
    #[error(transparent)]
    Lock(#[from] LockError),
    /// The ship's key is not that of the store.
    #[error(transparent)]
    OwnKey(#[from] OwnKeyError),
    /// The store.
    #[error(transparent)]
    Storage(#[from] storage::StorageError),
    /// The vessels.
    #[error(transparent)]
    Fleet(#[from] FleetError),
    /// A pinned key is none.
    #[error(
        "{0:?} is no authority key: give the 64 hexadecimal digits that the ship's server prints"
    )]
    BadPin(String),
    /// The address cannot be listened on.
    #[error("cannot listen on {address}")]
    Listen {
        /// Which.
        address: std::net::SocketAddr,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// HTTPS has no certificate.
    #[error(transparent)]
    Tls(#[from] crate::tls::TlsError),
    /// Serving failed.
    #[error("serving failed")]
    Serve(#[source] std::io::Error),
}

/// Opens everything and serves until `shutdown` is done; then lets what is under way finish, closes the
/// event streams and the store.
///
/// # Errors
/// [`ServeError`] if anything cannot be opened.
pub async fn run(
    settings: &Settings,
    shutdown: impl Future<Output = ()> + Send + 'static,
) -> Result<(), ServeError> {
    descriptors::raise();
    std::fs::create_dir_all(&settings.data).map_err(ServeError::Folder)?;
    let passphrase =
        crate::authority::passphrase::PassphraseSource::new(settings.passphrase_file.clone());
    // Held until the server has closed.
    let _lock = FolderLock::take(&settings.data, &settings.store)?;
    let store = storage::open(&settings.store).await?;
    own_key::check(&settings.data, &settings.store, &*store).await?;
    let own = crate::authority::load_or_make(&settings.data, &passphrase)?;
    let claimed = own_key::claim(&*store, own.public().vessel()).await;
    // Where nothing can be written, the next start puts it down.
    claimed.or_else(|error| {
        if error.is_unwritable() {
            Ok(())
        } else {
            Err(error)
        }
    })?;
    let fleet = Arc::new(Fleet::open(Arc::clone(&store), Some(own)).await?);
    for pin in &settings.pin {
        let key = crate::authority::read_public(pin);
        let key = key.ok_or_else(|| ServeError::BadPin(pin.clone()))?;
        fleet.pin(key).await?;
    }
    fleet.start_heads(&settings.data).await?;
    fleet.set_desk(Desk::new(
        &settings.data,
        settings.instruments.clone(),
        settings.ways.clone(),
        now_ms(),
    ));
    let enroller = Arc::new(Enroller::open(&settings.data));
    let first = enroller.first_contact(&fleet).await?;
    let sessions = Arc::new(Sessions::open(&settings.data, now_ms())?);
    let listeners = Listeners::open(settings).await?;
    let link = link(settings)?;
    announce(&fleet, first.as_deref(), &listeners).await;
    let (close, closing) = watch::channel(false);
    tokio::spawn(clock_watch::watch_over(
        Arc::clone(fleet.wellbeing()),
        closing.clone(),
    ));
    tokio::spawn(descriptors::watch_over(
        Arc::clone(fleet.wellbeing()),
        closing.clone(),
    ));
    let (watched, folder, ending) = (Arc::clone(&fleet), settings.data.clone(), closing.clone());
    tokio::spawn(async move { watched.watch_over_disk(&folder, ending).await });
    tokio::spawn(look_again(Arc::clone(&fleet), closing.clone()));
    let keeping = tokio::spawn(anchor_watch::keep(
        Arc::clone(&fleet),
        settings.data.clone(),
        closing.clone(),
    ));
    let relay =
        link.map(|link| tokio::spawn(relay::run_loop(Arc::clone(&fleet), link, closing.clone())));
    if first.is_some() {
        let (enroller, fleet) = (Arc::clone(&enroller), Arc::clone(&fleet));
        let mut closing = closing.clone();
        let told = |code: &str| tell(&first_contact(code));
        tokio::spawn(async move {
            tokio::select! {
                () = enroller.keep_first_contact(&fleet, codes::GOOD_FOR, told) => {}
                _ = closing.wait_for(|closing| *closing) => {}
            }
        });
    }
    let app = App {
        fleet,
        enroller,
        sessions,
        rate_limit: Arc::new(RateLimiter::new(running_ms())),
        is_ashore: !settings.pin.is_empty(),
        secure: listeners.is_secure(),
        closing: closing.clone(),
    };
    tokio::spawn(async move {
        shutdown.await;
        tracing::info!("closing");
        // Nobody listening is no fault.
        let _ = close.send(true);
    });
    let mut ended = closing.clone();
    tokio::select! {
        served = listeners.serve(app, closing) => served?,
        () = async {
            let _ = ended.wait_for(|closing| *closing).await;
            tokio::time::sleep(DRAIN).await;
        } => tracing::warn!("some requests did not finish in time"),
    }
    if let Some(relay) = relay {
        relay.abort();
    }
    // It keeps the watch as it stands; a disk that hangs must not hold up the closing.
    let _ = tokio::time::timeout(DRAIN, keeping).await;
    store.close().await;
    tracing::info!("closed");
    Ok(())
}

/// Compares while the server serves what it trusted at its start with the records from which that follows.
async fn look_again(fleet: Arc<Fleet>, mut closing: watch::Receiver<bool>) {
    let looking = async {
        let vessels = fleet.each(journal::Ledger::vessel).await;
        fleet.heads().audit_large(&vessels).await;
        if let Err(error) = fleet.recheck(BETWEEN_LOOKS).await {
            tracing::warn!(%error, "what is kept of runs could not be compared with their records");
        }
    };
    tokio::select! {
        () = looking => {}
        _ = closing.wait_for(|closing| *closing) => {}
    }
}

/// Makes the link to the office, where there is one.
fn link(settings: &Settings) -> Result<Option<relay::OfficeLink>, ServeError> {
    let Some(office) = &settings.office else {
        return Ok(None);
    };
    let trusted = match &settings.office_certificate {
        None => Vec::new(),
        Some(path) => tls::files::certificates(path)?,
    };
    Ok(Some(relay::OfficeLink::to(office, &trusted)))
}

fn first_contact(code: &str) -> String {
    format!("First-contact code: {code}")
}

/// Prints a line at the console; one that is gone is no fault.
fn tell(line: &str) {
    let mut out = std::io::stdout().lock();
    let _ = writeln!(out, "{line}").and_then(|()| out.flush());
}

/// Prints what a person at the console needs.
async fn announce(fleet: &Fleet, first: Option<&str>, listeners: &Listeners) {
    let card = fleet.ship_card().await;
    let name = card
        .as_ref()
        .map(|card| card.name.as_str())
        .filter(|name| !name.is_empty());
    let ship = name.unwrap_or("a ship without a name yet");
    let mut out = std::io::stdout().lock();
    // A console that is gone is no reason not to serve.
    let _ = writeln!(
        out,
        "Clearhawse serves {ship} at http://{}",
        listeners.address()
    );
    if let Some(card) = &card {
        let _ = writeln!(out, "Ship's key: {}", card.authority);
    }
    let _ = match first {
        Some(code) => writeln!(out, "{}", first_contact(code)),
        None => writeln!(
            out,
            "Enrolled: codes are handed out on the crew's page, or here by 'clearhawse code'"
        ),
    };
    for line in listeners.told() {
        let _ = writeln!(out, "{line}");
    }
    if let Some(key) = fleet.own() {
        let _ = writeln!(out, "Key's fingerprint: {}", key.public().fingerprint());
    }
    let _ = out.flush();
}
