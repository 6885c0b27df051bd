//! The addresses at which the server is reached: the plain one, and the secure one where there is one.

use super::{ServeError, connections};
use crate::handout::{self, Handout};
use crate::router::{App, router};
use crate::settings::Settings;
use crate::tls::listener::TlsListener;
use crate::tls::{self, Tls};
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use tokio::net::TcpListener;
use tokio::sync::watch;

/// Open doors.
#[derive(Debug)]
pub struct Doors {
    plain: TcpListener,
    address: SocketAddr,
    secure: Option<Secure>,
}

#[derive(Debug)]
struct Secure {
    listener: TcpListener,
    tls: Arc<Tls>,
    handout: Handout,
}

impl Doors {
    /// Listens at the addresses of the settings.
    ///
    /// # Errors
    /// [`ServeError`] if an address is taken, or HTTPS has no certificate.
    pub async fn open(settings: &Settings) -> Result<Self, ServeError> {
        let (plain, address) = listen(settings.listen).await?;
        let secure = match &settings.https {
            None => None,
            Some(https) => {
                let tls = Arc::new(Tls::open(&settings.data, https, tls::now())?);
                let (listener, secure) = listen(https.address).await?;
                let handout = Handout::new(Arc::clone(&tls), address, secure);
                Some(Secure {
                    listener,
                    tls,
                    handout,
                })
            }
        };
        Ok(Self {
            plain,
            address,
            secure,
        })
    }

    /// Returns the plain address.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Says whether the program is served over HTTPS.
    pub fn is_secure(&self) -> bool {
        self.secure.is_some()
    }

    /// Returns what a person at the console needs to bring phones here.
    pub fn told(&self) -> Vec<String> {
        let Some(Secure { tls, handout, .. }) = &self.secure else {
            return Vec::new();
        };
        let name = tls.first_name();
        let name = name.unwrap_or_else(|| tls::names::Name::Address(self.address.ip()));
        let mut told = vec![format!("Secure address: {}", handout.secure_at(&name))];
        if let Some(certificate) = tls.authority() {
            told.push(format!(
                "Phones get the certificate at: {}",
                handout.plain_at(&name)
            ));
            let fingerprint = handout::fingerprint(certificate).replace(':', " ");
            told.push(format!("Certificate's fingerprint: {fingerprint}"));
        }
        told
    }

    /// Serves until `closing` turns `true` and what is under way has finished.
    ///
    /// # Errors
    /// [`ServeError`] if serving fails.
    pub async fn serve(self, app: App, closing: watch::Receiver<bool>) -> Result<(), ServeError> {
        let Some(secure) = self.secure else {
            connections::serve(self.plain, router(app), closing).await;
            return Ok(());
        };
        let listener = TlsListener::new(secure.listener, secure.tls.config()?);
        let fresh = tokio::spawn(Arc::clone(&secure.tls).keep_fresh(closing.clone()));
        let handout = handout::router(secure.handout, app.clone());
        let plain = connections::serve(self.plain, handout, closing.clone());
        let listener = listener.map_err(ServeError::Serve)?;
        let pages = connections::serve(listener, router(app), closing);
        tokio::join!(plain, pages);
        fresh.abort();
        Ok(())
    }
}

async fn listen(address: SocketAddr) -> Result<(TcpListener, SocketAddr), ServeError> {
    let failed = |source: io::Error| ServeError::Listen { address, source };
    let listener = TcpListener::bind(address).await.map_err(failed)?;
    let bound = listener.local_addr().map_err(failed)?;
    Ok((listener, bound))
}
