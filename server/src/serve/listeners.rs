//! The addresses at which the server is reached: the plain one, and the secure one where there is one.

use super::{ServeError, connections};
use crate::ca_download::{self, CaDownload};
use crate::router::{App, router};
use crate::settings::Settings;
use crate::tls::listener::TlsListener;
use crate::tls::{self, Tls};
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use tokio::net::TcpListener;
use tokio::sync::watch;

/// Open listeners.
#[derive(Debug)]
pub struct Listeners {
    plain: TcpListener,
    address: SocketAddr,
    secure: Option<Secure>,
}

#[derive(Debug)]
struct Secure {
    listener: TcpListener,
    tls: Arc<Tls>,
    ca_download: CaDownload,
}

impl Listeners {
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
                let ca_download = CaDownload::new(Arc::clone(&tls), address, secure);
                Some(Secure {
                    listener,
                    tls,
                    ca_download,
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
        let Some(Secure {
            tls, ca_download, ..
        }) = &self.secure
        else {
            return Vec::new();
        };
        let name = tls.first_name();
        let name = name.unwrap_or_else(|| tls::names::HostName::Address(self.address.ip()));
        let mut told = vec![format!("Secure address: {}", ca_download.secure_at(&name))];
        if let Some(certificate) = tls.authority() {
            told.push(format!(
                "Phones get the certificate at: {}",
                ca_download.plain_at(&name)
            ));
            let fingerprint = ca_download::fingerprint(certificate).replace(':', " ");
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
        let ca_download = ca_download::router(secure.ca_download, app.clone());
        let plain = connections::serve(self.plain, ca_download, closing.clone());
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
