//! What the server is told: flags, then environment, then a TOML file, then defaults.

use crate::anchor_watch::horn::Ways;
use crate::instruments::address::{BadSource, SourceAddress};
use crate::tls::Https;
use crate::tls::given::OwnCertificate;
use crate::tls::names::{HostName, NotAName};
use serde::Deserialize;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

/// What stands in an option's place where nothing was given.
trait Given: Sized {
    /// Returns this, or `other` where nothing was given.
    fn over(self, other: Self) -> Self;
}

impl<T> Given for Option<T> {
    fn over(self, other: Self) -> Self {
        self.or(other)
    }
}

impl<T> Given for Vec<T> {
    fn over(self, other: Self) -> Self {
        if self.is_empty() { other } else { self }
    }
}

/// Makes flags, names in the environment and keys of the TOML file of one list.
macro_rules! options {
    ($($(#[$about:meta])+ $name:ident: $kind:ty,)+) => {
        /// The settings of `serve`, as given on the command line or in the environment, or in the TOML file.
        #[derive(Debug, Clone, Default, clap::Args, Deserialize)]
        #[serde(deny_unknown_fields, default)]
        pub struct ServeArguments {
            $($(#[$about])+ pub $name: $kind,)+
            /// A TOML file with the same names: data, listen, https, name, certificate, certificate_key,
            /// store, office, office_certificate, pin, passphrase_file, instruments, horn,
            /// alarm_out, escalate_after, log.
            #[serde(skip)]
            #[arg(long, env = "CLEARHAWSE_CONFIG", value_name = "FILE")]
            pub config: Option<PathBuf>,
        }

        impl ServeArguments {
            /// Puts what was given here over what `file` says.
            fn over(self, file: Self) -> Self {
                Self {
                    $($name: self.$name.over(file.$name),)+
                    config: self.config,
                }
            }

            #[cfg(test)]
            const NAMES: &[&str] = &[$(stringify!($name)),+];
        }
    };
}

options! {
    /// Folder of the server's data: the records, the ship's key. Made if it is not there.
    #[arg(long, env = "CLEARHAWSE_DATA", value_name = "DIR")]
    data: Option<PathBuf>,
    /// Address to listen on.
    #[arg(long, env = "CLEARHAWSE_LISTEN", value_name = "ADDR")]
    listen: Option<SocketAddr>,
    /// Serve HTTPS at this address; the plain address then hands out the certificate and sends all else
    /// there.
    #[arg(long, env = "CLEARHAWSE_HTTPS", value_name = "ADDR")]
    https: Option<SocketAddr>,
    /// A name or address by which phones reach this server, the one they should use first; may be given
    /// more than once. The machine's own addresses need not be.
    #[arg(
        long,
        env = "CLEARHAWSE_NAME",
        value_name = "NAME",
        value_delimiter = ','
    )]
    name: Vec<String>,
    /// The ship's own certificate, PEM, with those between it and a known authority.
    #[arg(long, env = "CLEARHAWSE_CERTIFICATE", value_name = "FILE")]
    certificate: Option<PathBuf>,
    /// The private key of the ship's own certificate, PEM.
    #[arg(long, env = "CLEARHAWSE_CERTIFICATE_KEY", value_name = "FILE")]
    certificate_key: Option<PathBuf>,
    /// Where records are kept: `sqlite:PATH` or `postgres://…`; SQLite in the data folder if not given.
    #[arg(
        long,
        env = "CLEARHAWSE_STORE",
        value_name = "URI",
        hide_env_values = true
    )]
    store: Option<String>,
    /// Address of the office ashore that this ship's records are relayed to, for instance
    /// `http://office.example:8787`.
    #[arg(long, env = "CLEARHAWSE_OFFICE", value_name = "URL")]
    office: Option<String>,
    /// The certificate of the office's own authority, PEM. No other is trusted then; without it, those that
    /// browsers trust are.
    #[arg(long, env = "CLEARHAWSE_OFFICE_CERTIFICATE", value_name = "FILE")]
    office_certificate: Option<PathBuf>,
    /// The authority key of a vessel whose records are taken in here, hex, as her server prints it; may
    /// be given more than once.
    #[arg(
        long,
        env = "CLEARHAWSE_PIN",
        value_name = "KEY",
        value_delimiter = ','
    )]
    pin: Vec<String>,
    /// A file that holds the passphrase of the ship's key; else `CLEARHAWSE_PASSPHRASE`, else it is asked
    /// for where a person sits at a terminal.
    #[arg(long, env = "CLEARHAWSE_PASSPHRASE_FILE", value_name = "FILE")]
    passphrase_file: Option<PathBuf>,
    /// Where the ship's instruments are heard, NMEA 0183: `udp://0.0.0.0:10110`, `tcp://HOST:PORT`,
    /// `serial:/dev/ttyUSB0?baud=4800`, or `file:NIGHT?rate=60` for a replay; a name may stand before it (`gps=udp://…`)
    /// and `?main=position+heading+wind+depth` behind it. May be given more than once, the main source first.
    #[arg(
        long,
        env = "CLEARHAWSE_INSTRUMENTS",
        value_name = "SOURCE",
        value_delimiter = ','
    )]
    instruments: Vec<String>,
    /// A line for the shell that sounds a horn or a relay while an alarm of the anchor watch waits to be seen; it is told what,
    /// how grave and to whom in `CLEARHAWSE_ALARM`, `…_LEVEL`, `…_TEXT` and `…_STAGE` (bridge, master, all).
    #[arg(long, env = "CLEARHAWSE_HORN", value_name = "COMMAND")]
    horn: Option<String>,
    /// Where alarms of the anchor watch are sent as NMEA 0183 sentences (ALR), for instance `udp://192.168.1.255:10110`.
    #[arg(long, env = "CLEARHAWSE_ALARM_OUT", value_name = "ADDR")]
    alarm_out: Option<String>,
    /// After so many seconds an alarm that nobody has seen goes on to the master, after as many more to all; 120 if not given.
    #[arg(long, env = "CLEARHAWSE_ESCALATE_AFTER", value_name = "SECONDS")]
    escalate_after: Option<u32>,
    /// How logs are written.
    #[arg(long, env = "CLEARHAWSE_LOG", value_enum)]
    log: Option<LogForm>,
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
    /// Where the ship's instruments are heard.
    pub instruments: Vec<SourceAddress>,
    /// How alarms of the anchor watch leave the program.
    pub ways: Ways,
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
    #[error("the settings file {path} is wrong")]
    Wrong {
        /// Which file.
        path: PathBuf,
        /// What and where.
        #[source]
        source: toml::de::Error,
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
    /// A source of sentences cannot be used.
    #[error("instruments")]
    Instruments(#[from] BadSource),
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
            None => ServeArguments::default(),
            Some(path) => {
                let text =
                    std::fs::read_to_string(path).map_err(|source| SettingsError::Unreadable {
                        path: path.clone(),
                        source,
                    })?;
                toml::from_str(&text).map_err(|source| SettingsError::Wrong {
                    path: path.clone(),
                    source,
                })?
            }
        };
        let given = given.over(file);
        let https = https(&given)?;
        if given.office_certificate.is_some() && !given.office.as_deref().is_some_and(is_secure) {
            return Err(SettingsError::NoSecureOffice);
        }
        let data = given.data.ok_or(SettingsError::NoData)?;
        let here = SocketAddr::from(([127, 0, 0, 1], 8787));
        Ok(Self {
            https,
            listen: given.listen.unwrap_or(here),
            store: given.store.unwrap_or_else(|| default_store(&data)),
            office: given.office,
            office_certificate: given.office_certificate,
            pin: given.pin,
            passphrase_file: given.passphrase_file,
            instruments: SourceAddress::all(&given.instruments)?,
            ways: Ways::of(given.horn, given.alarm_out.as_deref(), given.escalate_after)?,
            log: given.log.unwrap_or_default(),
            data,
        })
    }
}

fn is_secure(office: &str) -> bool {
    office
        .get(..8)
        .is_some_and(|scheme| scheme.eq_ignore_ascii_case("https://"))
}

fn https(given: &ServeArguments) -> Result<Option<Https>, SettingsError> {
    let own = match (&given.certificate, &given.certificate_key) {
        (Some(certificate), Some(key)) => Some(OwnCertificate {
            certificate: certificate.clone(),
            key: key.clone(),
        }),
        (None, None) => None,
        _ => return Err(SettingsError::HalfACertificate),
    };
    let names = given.name.iter().map(|name| name.parse());
    let names: Vec<HostName> = names.collect::<Result<_, _>>()?;
    match given.https {
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
        let error =
            with_file("data = '/srv/ship'\nlisen = 'x'", ServeArguments::default()).unwrap_err();
        let error = crate::api::error::told(&error);
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

    #[test]
    fn every_option_is_a_flag_a_name_in_the_environment_and_a_key_of_the_file() {
        #[derive(clap::Parser)]
        struct Program {
            #[command(flatten)]
            serve: ServeArguments,
        }
        let command = <Program as clap::CommandFactory>::command();
        let about = |id: &str| {
            let argument = command.get_arguments().find(|a| a.get_id() == id);
            argument.unwrap_or_else(|| panic!("{id} is no flag"))
        };
        let file_help = about("config").get_help().unwrap().to_string();
        for name in ServeArguments::NAMES {
            let argument = about(name);
            assert_eq!(argument.get_long().unwrap(), name.replace('_', "-"));
            let variable = format!("CLEARHAWSE_{}", name.to_uppercase());
            assert_eq!(argument.get_env().unwrap(), variable.as_str());
            assert!(file_help.contains(name), "{name} is not named: {file_help}");
            let error = toml::from_str::<ServeArguments>(&format!("{name} = {{}}")).unwrap_err();
            assert!(!error.to_string().contains("unknown field"), "{error}");
        }
        assert_eq!(
            command.get_arguments().count(),
            ServeArguments::NAMES.len() + 1
        );
    }
}
