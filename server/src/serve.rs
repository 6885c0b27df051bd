//! The server's life: from open store to closed.

mod connections;
mod listeners;

use crate::clock::now_ms;
use crate::enrol::Enroller;
use crate::fleet::{Fleet, FleetError};
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

/// Why the server does not serve.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// The data folder cannot be made.
    #[error("the data folder cannot be made")]
    Folder(#[source] std::io::Error),
    /// The ship's key.
    #[error(transparent)]
    Authority(#[from] crate::authority::AuthorityError),
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
    std::fs::create_dir_all(&settings.data).map_err(ServeError::Folder)?;
    let passphrase =
        crate::authority::passphrase::PassphraseSource::new(settings.passphrase_file.clone());
    let own = crate::authority::load_or_make(&settings.data, &passphrase)?;
    let store = storage::open(&settings.store).await?;
    let fleet = Arc::new(Fleet::open(Arc::clone(&store), Some(own)).await?);
    for pin in &settings.pin {
        let key = crate::authority::read_public(pin);
        let key = key.ok_or_else(|| ServeError::BadPin(pin.clone()))?;
        fleet.pin(key).await?;
    }
    let vessels = fleet.each(journal::Ledger::vessel).await;
    fleet
        .heads()
        .open(&settings.data, &vessels, now_ms())
        .await?;
    let enroller = Arc::new(Enroller::open(&settings.data));
    let first = enroller.first_contact(&fleet).await?;
    let sessions = Arc::new(Sessions::open(&settings.data, now_ms())?);
    let listeners = Listeners::open(settings).await?;
    let link = link(settings)?;
    announce(&fleet, first.as_deref(), &listeners).await;
    let (close, closing) = watch::channel(false);
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
        rate_limit: Arc::new(RateLimiter::new(now_ms())),
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
    store.close().await;
    tracing::info!("closed");
    Ok(())
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
