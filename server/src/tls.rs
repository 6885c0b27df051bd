//! HTTPS without internet: with a certificate authority of the ship's own, or with a certificate from
//! elsewhere; renewed while the server runs.

pub mod files;
pub mod given;
pub mod listener;
pub mod local;
pub mod names;

use crate::authority::AuthorityError;
use given::OwnCertificate;
use local::LocalAuthority;
use names::{HostName, Names};
use rustls::crypto::CryptoProvider;
use rustls::server::{ClientHello, ResolvesServerCert};
use rustls::sign::CertifiedKey;
use rustls::{InconsistentKeys, ServerConfig};
use rustls_pki_types::{CertificateDer, PrivateKeyDer};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::{Arc, PoisonError, RwLock};
use std::time::Duration;
use time::OffsetDateTime;
use tokio::sync::watch;
use x509_parser::extensions::GeneralName;
use x509_parser::prelude::{FromDer as _, X509Certificate};

/// The folder in the data folder where keys and certificates are.
pub const FOLDER: &str = "tls";
/// How often the certificate is looked at.
const LOOK: Duration = Duration::from_mins(1);

/// How HTTPS is to be served.
#[derive(Debug, Clone)]
pub struct Https {
    /// Address to listen on.
    pub address: SocketAddr,
    /// Names and addresses that phones use, the first before others.
    pub names: Vec<HostName>,
    /// The ship's own certificate, if she has one.
    pub given: Option<OwnCertificate>,
}

/// Why there is no HTTPS.
#[derive(Debug, thiserror::Error)]
pub enum TlsError {
    /// A file cannot be read or written.
    #[error("{path} cannot be {what}")]
    File {
        /// Which.
        path: PathBuf,
        /// `read`, `written` or `made`.
        what: &'static str,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// Others than its owner can read or change a private key.
    #[error(
        "{path} holds a private key and is open to others than its owner (mode {mode:o}): close it with `chmod 600 {path}`"
    )]
    OpenToOthers {
        /// Which file.
        path: PathBuf,
        /// Its permission bits.
        mode: u32,
    },
    /// A file of ours is not what was written.
    #[error("{path} is damaged: {reason}; it was left as it is")]
    Damaged {
        /// Which file.
        path: PathBuf,
        /// What is wrong.
        reason: String,
    },
    /// The file is something else.
    #[error("{path} holds no {what} in PEM form (it begins with -----BEGIN)")]
    NotPem {
        /// Which file.
        path: PathBuf,
        /// `certificate` or `private key`.
        what: &'static str,
    },
    /// The certificate cannot be read.
    #[error("the certificate in {path} cannot be read: {reason}")]
    BadCertificate {
        /// Which file.
        path: PathBuf,
        /// Why.
        reason: String,
    },
    /// The key belongs to another certificate.
    #[error("the private key in {key} is not that of the certificate in {certificate}")]
    OtherKey {
        /// The certificate's file.
        certificate: PathBuf,
        /// The key's file.
        key: PathBuf,
    },
    /// The key cannot be used.
    #[error("the private key in {path} cannot be used: {reason}")]
    BadKey {
        /// Which file.
        path: PathBuf,
        /// Why.
        reason: String,
    },
    /// The certificate is no longer in force.
    #[error("the certificate in {path} ended on {day}")]
    Ended {
        /// Which file.
        path: PathBuf,
        /// When, UTC.
        day: String,
    },
    /// The certificate is not in force yet.
    #[error("the certificate in {path} begins on {day}: is this machine's clock right?")]
    NotBegun {
        /// Which file.
        path: PathBuf,
        /// When, UTC.
        day: String,
    },
    /// The certificate is for other names.
    #[error("the certificate in {path} is not for {name}")]
    OtherName {
        /// Which file.
        path: PathBuf,
        /// The name that was asked for.
        name: HostName,
    },
    /// Phones would not take the authority's word for a name.
    #[error(
        "the certificate authority in {folder} was made for other names than {name}: phones that trust it \
         would not take it for that one. Use a name that it was made for; or move {folder} away, so that \
         a new one is made, which every phone must then be told to trust"
    )]
    NotPermitted {
        /// Where the authority is.
        folder: PathBuf,
        /// The name that was asked for.
        name: HostName,
    },
    /// Nothing could be made.
    #[error("no certificate can be made")]
    Make(#[from] rcgen::Error),
    /// The library takes no configuration.
    #[error("HTTPS cannot be set up")]
    Configure(#[from] rustls::Error),
    /// The system gives no random numbers.
    #[error(transparent)]
    Random(#[from] AuthorityError),
}

impl TlsError {
    fn file(path: &Path, what: &'static str, source: std::io::Error) -> Self {
        Self::File {
            path: path.to_owned(),
            what,
            source,
        }
    }
}

/// A certificate that can be served, and what it says.
#[derive(Debug, Clone)]
pub struct Material {
    key: Arc<CertifiedKey>,
    names: Names,
    /// Names with a star in the place of their first label, without it: `.example.org`.
    stars: Vec<String>,
    not_before: i64,
    not_after: i64,
}

/// What is wrong with a certificate or its key.
#[derive(Debug)]
enum Problem {
    Certificate(String),
    Key(String),
    OtherKey,
}

impl Problem {
    fn of(self, given: &OwnCertificate) -> TlsError {
        match self {
            Self::Certificate(reason) => TlsError::BadCertificate {
                path: given.certificate.clone(),
                reason,
            },
            Self::Key(reason) => TlsError::BadKey {
                path: given.key.clone(),
                reason,
            },
            Self::OtherKey => TlsError::OtherKey {
                certificate: given.certificate.clone(),
                key: given.key.clone(),
            },
        }
    }
}

impl Material {
    fn new(
        chain: Vec<CertificateDer<'static>>,
        key: PrivateKeyDer<'static>,
    ) -> Result<Self, Problem> {
        let first = chain.first().map_or(&[][..], |first| first.as_ref());
        let (_, parsed) = X509Certificate::from_der(first)
            .map_err(|error| Problem::Certificate(error.to_string()))?;
        let (mut names, mut stars) = (Names::new(), Vec::new());
        let alternatives = parsed.subject_alternative_name().ok().flatten();
        for name in alternatives
            .iter()
            .flat_map(|found| &found.value.general_names)
        {
            match name {
                GeneralName::DNSName(host) => match host.strip_prefix('*') {
                    Some(rest) => stars.push(rest.to_ascii_lowercase()),
                    None => names.extend(host.parse::<HostName>().ok()),
                },
                GeneralName::IPAddress(bytes) => names.extend(address(bytes)),
                _ => {}
            }
        }
        let validity = parsed.validity();
        let (not_before, not_after) = (
            validity.not_before.timestamp(),
            validity.not_after.timestamp(),
        );
        let key = CertifiedKey::from_der(chain, key, &provider()).map_err(|error| match error {
            rustls::Error::InconsistentKeys(InconsistentKeys::KeyMismatch) => Problem::OtherKey,
            error => Problem::Key(error.to_string()),
        })?;
        Ok(Self {
            key: Arc::new(key),
            names,
            stars,
            not_before,
            not_after,
        })
    }

    /// Says whether the certificate is for `name`: RFC 9525 section 6.3, a star for one label.
    fn is_for(&self, name: &HostName) -> bool {
        let under_star = |host: &str| {
            let rest = host.find('.').map_or("", |at| &host[at..]);
            self.stars.iter().any(|star| star == rest)
        };
        self.names.contains(name) || matches!(name, HostName::Host(host) if under_star(host))
    }
}

fn address(bytes: &[u8]) -> Option<HostName> {
    let address = <[u8; 4]>::try_from(bytes).map(std::net::IpAddr::from);
    let address = address.or_else(|_| <[u8; 16]>::try_from(bytes).map(std::net::IpAddr::from));
    address.ok().map(HostName::Address)
}

/// The sums come from one library that builds with a C compiler alone, everywhere that ships run.
fn provider() -> CryptoProvider {
    rustls::crypto::ring::default_provider()
}

#[derive(Debug)]
enum Origin {
    Local(Box<LocalAuthority>),
    Given(OwnCertificate),
}

/// The certificate in use, and where the next one comes from.
#[derive(Debug)]
pub struct Tls {
    origin: Origin,
    asked: Vec<HostName>,
    now: RwLock<Material>,
}

impl Tls {
    /// Makes or reads what HTTPS needs; `data` is the data folder.
    ///
    /// # Errors
    /// [`TlsError`] if a file is not right, or a name cannot be served.
    pub fn open(data: &Path, https: &Https, now: OffsetDateTime) -> Result<Self, TlsError> {
        let origin = if let Some(given) = &https.given {
            Origin::Given(given.clone())
        } else {
            let folder = data.join(FOLDER);
            let asked = https.names.iter().cloned().collect();
            let authority = LocalAuthority::load_or_make(&folder, &asked, now)?;
            let strange = https
                .names
                .iter()
                .find(|name| !authority.may_sign_for(name));
            if let Some(name) = strange.cloned() {
                return Err(TlsError::NotPermitted { folder, name });
            }
            Origin::Local(Box::new(authority))
        };
        let material = next(&origin, &https.names, now)?;
        Ok(Self {
            origin,
            asked: https.names.clone(),
            now: RwLock::new(material),
        })
    }

    fn material(&self) -> Material {
        let now = self.now.read().unwrap_or_else(PoisonError::into_inner);
        now.clone()
    }

    /// Returns the certificate that phones are to trust, DER; none where the ship has her own.
    pub fn authority(&self) -> Option<&CertificateDer<'static>> {
        match &self.origin {
            Origin::Local(authority) => Some(authority.certificate()),
            Origin::Given(_) => None,
        }
    }

    /// Says whether `name` is one of this server's.
    pub fn is_for(&self, name: &HostName) -> bool {
        self.material().is_for(name)
    }

    /// Returns the name that phones should use, where one was asked for or can be told.
    pub fn first_name(&self) -> Option<HostName> {
        let asked = self.asked.first().cloned();
        asked.or_else(|| {
            let names = self.material().names;
            names.into_iter().find(|name| !name.is_loopback())
        })
    }

    /// Looks at the certificate and takes the next one where it is time.
    ///
    /// # Errors
    /// [`TlsError`] if there is no next one; the one in use stays.
    pub fn refresh(&self, now: OffsetDateTime) -> Result<(), TlsError> {
        let material = next(&self.origin, &self.asked, now)?;
        *self.now.write().unwrap_or_else(PoisonError::into_inner) = material;
        Ok(())
    }

    /// Looks at the certificate again and again, for as long as the server lives.
    pub async fn keep_fresh(self: Arc<Self>, mut closing: watch::Receiver<bool>) {
        loop {
            tokio::select! {
                _ = closing.wait_for(|closing| *closing) => return,
                () = tokio::time::sleep(LOOK) => {}
            }
            if let Err(error) = self.refresh(now()) {
                let cause = std::error::Error::source(&error).map(ToString::to_string);
                tracing::error!(%error, cause, "the certificate in use stays");
            }
        }
    }

    /// Returns the server's configuration, which takes the certificate in use for each connection.
    ///
    /// # Errors
    /// [`TlsError::Configure`] if the library takes none.
    pub fn config(self: &Arc<Self>) -> Result<Arc<ServerConfig>, TlsError> {
        let builder = ServerConfig::builder_with_provider(Arc::new(provider()));
        let mut config = builder
            .with_safe_default_protocol_versions()?
            .with_no_client_auth()
            .with_cert_resolver(Arc::<Self>::clone(self));
        config.alpn_protocols = vec![b"h2".to_vec(), b"http/1.1".to_vec()];
        Ok(Arc::new(config))
    }
}

impl ResolvesServerCert for Tls {
    fn resolve(&self, _: ClientHello<'_>) -> Option<Arc<CertifiedKey>> {
        Some(self.material().key)
    }
}

/// Returns the system's time.
pub fn now() -> OffsetDateTime {
    let seconds = crate::clock::now_ms() / 1_000;
    OffsetDateTime::from_unix_timestamp(seconds).unwrap_or(OffsetDateTime::UNIX_EPOCH)
}

fn next(origin: &Origin, asked: &[HostName], now: OffsetDateTime) -> Result<Material, TlsError> {
    match origin {
        Origin::Given(given) => {
            let material = given.load(now)?;
            match asked.iter().find(|name| !material.is_for(name)) {
                None => Ok(material),
                Some(name) => Err(TlsError::OtherName {
                    path: given.certificate.clone(),
                    name: name.clone(),
                }),
            }
        }
        Origin::Local(authority) => {
            let mut names = names::loopback();
            names.extend(asked.iter().cloned());
            match names::own_addresses() {
                Ok(own) => {
                    names.extend(own.into_iter().filter(|name| authority.may_sign_for(name)));
                }
                Err(error) => tracing::warn!(%error, "this machine's addresses are not known"),
            }
            authority.server(&names, now)
        }
    }
}

#[cfg(test)]
mod tests;
