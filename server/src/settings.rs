//! What the server is told: flags, then environment, then a TOML file, then defaults.

use crate::tls::Https;
use crate::tls::given::OwnCertificate;
use crate::tls::names::{HostName, NotAName};
use serde::Deserialize;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

/// The settings of `serve`, as given on the command line or in the environment.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct ServeArguments {
    /// Folder of the server's data: the records, the ship's key. Made if it is not there.
    #[arg(long, env = "CLEARHAWSE_DATA", value_name = "DIR")]
    pub data: Option<PathBuf>,
    /// Address to listen on.
    #[arg(long, env = "CLEARHAWSE_LISTEN", value_name = "ADDR")]
    pub listen: Option<SocketAddr>,
    /// Serve HTTPS at this address; the plain address then hands out the certificate and sends all else
    /// there.
    #[arg(long, env = "CLEARHAWSE_HTTPS", value_name = "ADDR")]
    pub https: Option<SocketAddr>,
    /// A name or address by which phones reach this server, the one they should use first; may be given
    /// more than once. The machine's own addresses need not be.
    #[arg(
        long,
        env = "CLEARHAWSE_NAME",
        value_name = "NAME",
        value_delimiter = ','
    )]
    pub name: Vec<String>,
    /// The ship's own certificate, PEM, with those between it and a known authority.
    #[arg(long, env = "CLEARHAWSE_CERTIFICATE", value_name = "FILE")]
    pub certificate: Option<PathBuf>,
    /// The private key of the ship's own certificate, PEM.
    #[arg(long, env = "CLEARHAWSE_CERTIFICATE_KEY", value_name = "FILE")]
    pub certificate_key: Option<PathBuf>,
    /// A TOML file with the same names: data, listen, https, name, certificate, certificate_key,
    /// store, office, office_certificate, pin, passphrase_file, log.
    #[arg(long, env = "CLEARHAWSE_CONFIG", value_name = "FILE")]
    pub config: Option<PathBuf>,
    /// Where records are kept: `sqlite:PATH` or `postgres://…`; SQLite in the data folder if not given.
    #[arg(
        long,
        env = "CLEARHAWSE_STORE",
        value_name = "URI",
        hide_env_values = true
    )]
    pub store: Option<String>,
    /// Address of the office ashore that this ship's records are relayed to, for instance
    /// `http://office.example:8787`.
    #[arg(long, env = "CLEARHAWSE_OFFICE", value_name = "URL")]
    pub office: Option<String>,
    /// The certificate of the office's own authority, PEM. No other is trusted then; without it, those that
    /// browsers trust are.
    #[arg(long, env = "CLEARHAWSE_OFFICE_CERTIFICATE", value_name = "FILE")]
    pub office_certificate: Option<PathBuf>,
    /// The authority key of a vessel whose records are taken in here, hex, as her server prints it; may
    /// be given more than once.
    #[arg(
        long,
        env = "CLEARHAWSE_PIN",
        value_name = "KEY",
        value_delimiter = ','
    )]
    pub pin: Vec<String>,
    /// A file that holds the passphrase of the ship's key; else `CLEARHAWSE_PASSPHRASE`, else it is asked
    /// for where a person sits at a terminal.
    #[arg(long, env = "CLEARHAWSE_PASSPHRASE_FILE", value_name = "FILE")]
    pub passphrase_file: Option<PathBuf>,
    /// How logs are written.
    #[arg(long, env = "CLEARHAWSE_LOG", value_enum)]
    pub log: Option<LogForm>,
}

/// How logs are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum LogForm {
    /// One line of text an event.
    #[default]
    Text,
    /// One JSON object an event.
    Json,
}

/// What the TOML file may say.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    data: Option<PathBuf>,
    listen: Option<SocketAddr>,
    https: Option<SocketAddr>,
    #[serde(default)]
    name: Vec<String>,
    certificate: Option<PathBuf>,
    certificate_key: Option<PathBuf>,
    store: Option<String>,
    office: Option<String>,
    office_certificate: Option<PathBuf>,
    #[serde(default)]
    pin: Vec<String>,
    passphrase_file: Option<PathBuf>,
    log: Option<LogForm>,
}

/// The settings of `serve`, complete.
#[derive(Debug, Clone)]
pub struct Settings {
    /// Folder of the server's data.
    pub data: PathBuf,
    /// Address to listen on.
    pub listen: SocketAddr,
    /// How HTTPS is served, if it is.
    pub https: Option<Https>,
    /// Where records are kept.
    pub store: String,
    /// The office that records are relayed to.
    pub office: Option<String>,
    /// The certificate of the office's own authority.
    pub office_certificate: Option<PathBuf>,
    /// Authority keys of the vessels whose records are taken in, hex.
    pub pin: Vec<String>,
    /// A file that holds the passphrase of the ship's key.
    pub passphrase_file: Option<PathBuf>,
    /// How logs are written.
    pub log: LogForm,
}

/// What is wrong with the settings.
#[derive(Debug, thiserror::Error)]
pub enum SettingsError {
    /// The file cannot be read.
    #[error("the settings file {path} cannot be read")]
    Unreadable {
        /// Which file.
        path: PathBuf,
        /// Why.
        #[source]
        source: std::io::Error,
    },
    /// The file is not what it should be.
    #[error("the settings file {path} is wrong: {message}")]
    Wrong {
        /// Which file.
        path: PathBuf,
        /// What and where.
        message: String,
    },
    /// A certificate came without its key, or a key without its certificate.
    #[error(
        "a certificate and its key go together: give --certificate FILE and --certificate-key FILE"
    )]
    HalfACertificate,
    /// What belongs to HTTPS was given without it.
    #[error("{0} says how HTTPS is served: say where with --https ADDR")]
    NoHttps(&'static str),
    /// A certificate is named for an office that is not reached over HTTPS.
    #[error(
        "--office-certificate says how the office is known over HTTPS: give --office https://ADDRESS"
    )]
    NoSecureOffice,
    /// A name is none.
    #[error(transparent)]
    Name(#[from] NotAName),
    /// There is nowhere to keep anything.
    #[error("where shall the data be kept? give --data DIR")]
    NoData,
}

/// Where records are kept when nothing else is said.
pub fn default_store(data: &Path) -> String {
    format!("sqlite:{}", data.join("records.sqlite").display())
}

impl Settings {
    /// Puts flags and environment over the file over the defaults.
    ///
    /// # Errors
    /// [`SettingsError`] if the file cannot be read or is wrong, or no data folder is named.
    pub fn gather(given: ServeArguments) -> Result<Self, SettingsError> {
        let file = match &given.config {
            None => Written::default(),
            Some(path) => {
                let text =
                    std::fs::read_to_string(path).map_err(|source| SettingsError::Unreadable {
                        path: path.clone(),
                        source,
                    })?;
                toml::from_str(&text).map_err(|error| SettingsError::Wrong {
                    path: path.clone(),
                    message: error.to_string(),
                })?
            }
        };
        let https = https(&given, &file)?;
        let office = given.office.or(file.office);
        let office_certificate = given.office_certificate.or(file.office_certificate);
        if office_certificate.is_some() && !office.as_deref().is_some_and(is_secure) {
            return Err(SettingsError::NoSecureOffice);
        }
        let data = given.data.or(file.data).ok_or(SettingsError::NoData)?;
        let store = given
            .store
            .or(file.store)
            .unwrap_or_else(|| default_store(&data));
        Ok(Self {
            listen: given
                .listen
                .or(file.listen)
                .unwrap_or_else(|| SocketAddr::from(([127, 0, 0, 1], 8787))),
            https,
            office,
            office_certificate,
            pin: if given.pin.is_empty() {
                file.pin
            } else {
                given.pin
            },
            passphrase_file: given.passphrase_file.or(file.passphrase_file),
            log: given.log.or(file.log).unwrap_or_default(),
            store,
            data,
        })
    }
}

fn is_secure(office: &str) -> bool {
    office
        .get(..8)
        .is_some_and(|scheme| scheme.eq_ignore_ascii_case("https://"))
}

fn https(given: &ServeArguments, file: &Written) -> Result<Option<Https>, SettingsError> {
    let of = |flag: &Option<PathBuf>, file: &Option<PathBuf>| flag.clone().or_else(|| file.clone());
    let certificate = of(&given.certificate, &file.certificate);
    let key = of(&given.certificate_key, &file.certificate_key);
    let own = match (certificate, key) {
        (Some(certificate), Some(key)) => Some(OwnCertificate { certificate, key }),
        (None, None) => None,
        _ => return Err(SettingsError::HalfACertificate),
    };
    let names = if given.name.is_empty() {
        &file.name
    } else {
        &given.name
    };
    let names: Vec<HostName> = names
        .iter()
        .map(|name| name.parse())
        .collect::<Result<_, _>>()?;
    match given.https.or(file.https) {
        Some(address) => Ok(Some(Https {
            address,
            names,
            given: own,
        })),
        None if own.is_some() => Err(SettingsError::NoHttps("--certificate")),
        None if !names.is_empty() => Err(SettingsError::NoHttps("--name")),
        None => Ok(None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with_file(text: &str, flags: ServeArguments) -> Result<Settings, SettingsError> {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("clearhawse.toml");
        std::fs::write(&path, text).unwrap();
        Settings::gather(ServeArguments {
            config: Some(path),
            ..flags
        })
    }

    #[test]
    fn a_flag_counts_before_the_file() {
        let flags = ServeArguments {
            listen: Some(([127, 0, 0, 1], 9000).into()),
            ..Default::default()
        };
        let settings = with_file(
            "data = '/srv/ship'\nlisten = '127.0.0.1:9001'\nlog = 'json'",
            flags,
        )
        .unwrap();
        assert_eq!(settings.listen.port(), 9000);
        assert_eq!(settings.log, LogForm::Json);
        assert_eq!(settings.store, "sqlite:/srv/ship/records.sqlite");
    }

    #[test]
    fn a_mistake_in_the_file_is_named_with_its_place() {
        let error = with_file("data = '/srv/ship'\nlisen = 'x'", ServeArguments::default())
            .unwrap_err()
            .to_string();
        assert!(
            error.contains("lisen") && error.contains("line 2"),
            "{error}"
        );
    }

    #[test]
    fn what_belongs_to_https_is_read_as_one() {
        let file = "data = '/srv/ship'\nhttps = '0.0.0.0:8443'\nname = ['Ship.home.arpa', '10.0.0.1']\n\
            certificate = 'ship.crt'\n";
        let half = with_file(file, ServeArguments::default());
        assert!(matches!(half, Err(SettingsError::HalfACertificate)));
        let whole = format!("{file}certificate_key = 'ship.pem'\n");
        let https = with_file(&whole, ServeArguments::default())
            .unwrap()
            .https
            .unwrap();
        let names: Vec<String> = https.names.iter().map(ToString::to_string).collect();
        assert_eq!(names, ["ship.home.arpa", "10.0.0.1"]);
        assert_eq!(
            (https.address.port(), https.given.unwrap().key),
            (8443, "ship.pem".into())
        );
        let named = with_file(
            "data = '/srv/ship'\nname = ['ship']",
            ServeArguments::default(),
        );
        assert!(matches!(named, Err(SettingsError::NoHttps("--name"))));
        let flags = ServeArguments {
            name: vec!["https://ship".to_owned()],
            ..Default::default()
        };
        assert!(matches!(
            with_file(&whole, flags),
            Err(SettingsError::Name(_))
        ));
    }

    #[test]
    fn an_offices_certificate_is_of_use_over_https_only() {
        let with = |office: &str| {
            let text = format!("data = '/srv/ship'\noffice_certificate = 'office.pem'\n{office}");
            with_file(&text, ServeArguments::default())
        };
        for plain in ["", "office = 'http://office.example'", "office = 'https:'"] {
            let refused = with(plain);
            assert!(matches!(refused, Err(SettingsError::NoSecureOffice)));
        }
        let settings = with("office = 'HTTPS://office.example:8443'").unwrap();
        assert_eq!(settings.office_certificate, Some("office.pem".into()));
    }

    #[test]
    fn no_data_folder_is_asked_for() {
        let error = Settings::gather(ServeArguments::default()).unwrap_err();
        assert!(error.to_string().contains("--data"));
    }
}
