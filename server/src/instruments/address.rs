//! Where the ship's instruments are heard, as it is given on the command line and in the TOML file.

use std::path::PathBuf;
use std::str::FromStr;

/// The quantities for which a source can be the main one, as [`seamanship::watch::Whom::order`] counts them.
pub const QUANTITIES: [&str; 4] = ["position", "heading", "wind", "depth"];

/// The speed of a serial line where none is given.
/// Source: NMEA 0183's own rate, from memory.
const BAUD: u32 = 4800;
/// The fastest replay.
const FASTEST: f64 = 1000.0;
/// The most sources.
pub const MOST_SOURCES: usize = 16;

/// On what road sentences come.
#[derive(Debug, Clone, PartialEq)]
pub enum Road {
    /// Datagrams to a port of this machine: broadcast, or sent here.
    Udp(std::net::SocketAddr),
    /// A server of sentences, `host:port`.
    Tcp(String),
    /// A serial line.
    Serial {
        /// Its device.
        path: PathBuf,
        /// Its speed.
        baud: u32,
    },
    /// A night from a file: `MILLISECONDS SENTENCE` on each line.
    Replay {
        /// The file.
        path: PathBuf,
        /// How many times as fast as it was.
        rate: f64,
    },
}

/// One source of sentences.
#[derive(Debug, Clone, PartialEq)]
pub struct SourceAddress {
    /// What the ship calls it.
    pub name: String,
    /// On what road.
    pub road: Road,
    /// For which of [`QUANTITIES`] it is the main source, whatever its place in the list.
    pub is_main: [bool; 4],
}

/// Why an address of instruments cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BadSource {
    /// It begins with no known road.
    #[error(
        "{0:?} says not how instruments are heard: give udp://0.0.0.0:10110, tcp://HOST:PORT, serial:/dev/DEVICE or file:NIGHT"
    )]
    NoRoad(String),
    /// The address is none.
    #[error("{0:?} is no address and port, for instance 0.0.0.0:10110")]
    NoAddress(String),
    /// What stands behind the question mark.
    #[error("{0:?} means nothing here: known are main=QUANTITY, baud=NUMBER and rate=NUMBER")]
    NoSetting(String),
    /// Two sources of one name.
    #[error("two sources of sentences are called {0:?}")]
    Twice(String),
    /// Too many.
    #[error("more than {MOST_SOURCES} sources of sentences")]
    TooMany,
    /// A replay beside others.
    #[error("a replay of a file stands alone: no other source of sentences beside it")]
    NotAlone,
}

impl FromStr for SourceAddress {
    type Err = BadSource;

    fn from_str(text: &str) -> Result<Self, BadSource> {
        let text = text.trim();
        let no_road = || BadSource::NoRoad(text.to_owned());
        let (before, behind) = text.split_once(':').ok_or_else(no_road)?;
        let (name, road) = match before.split_once('=') {
            Some((name, road)) if !name.trim().is_empty() => (Some(name.trim()), road.trim()),
            _ => (None, before),
        };
        let (place, more) = behind.split_once('?').unwrap_or((behind, ""));
        let (mut is_main, mut baud, mut rate) = ([false; 4], BAUD, 1.0);
        for setting in more.split('&').filter(|setting| !setting.is_empty()) {
            let unknown = || BadSource::NoSetting(setting.to_owned());
            let (key, value) = setting.split_once('=').ok_or_else(unknown)?;
            match key {
                "main" => {
                    for word in value.split('+') {
                        let at = QUANTITIES.iter().position(|known| *known == word);
                        is_main[at.ok_or_else(unknown)?] = true;
                    }
                }
                "baud" => baud = value.parse().map_err(|_| unknown())?,
                "rate" => {
                    rate = value.parse().map_err(|_| unknown())?;
                    if !(0.01..=FASTEST).contains(&rate) {
                        return Err(unknown());
                    }
                }
                _ => return Err(unknown()),
            }
        }
        let host = place.strip_prefix("//").unwrap_or(place);
        let host = host.strip_suffix('/').unwrap_or(host);
        let no_address = || BadSource::NoAddress(host.to_owned());
        let path = PathBuf::from(place);
        let road = match road {
            "udp" => Road::Udp(host.parse().map_err(|_| no_address())?),
            "tcp" => {
                let (name, port) = host.rsplit_once(':').ok_or_else(no_address)?;
                let is_port = port.parse::<u16>().is_ok_and(|port| port > 0);
                if name.is_empty() || !is_port {
                    return Err(no_address());
                }
                Road::Tcp(host.to_owned())
            }
            "serial" if !place.is_empty() => Road::Serial { path, baud },
            "file" if !place.is_empty() => Road::Replay { path, rate },
            _ => return Err(no_road()),
        };
        let name = name.map_or_else(|| format!("{}:{place}", word(&road)), ToOwned::to_owned);
        Ok(Self {
            name,
            road,
            is_main,
        })
    }
}

fn word(road: &Road) -> &'static str {
    match road {
        Road::Udp(_) => "udp",
        Road::Tcp(_) => "tcp",
        Road::Serial { .. } => "serial",
        Road::Replay { .. } => "file",
    }
}

impl SourceAddress {
    /// Reads all that are given, the main one first.
    ///
    /// # Errors
    /// [`BadSource`] says which is wrong, and how.
    pub fn all(given: &[String]) -> Result<Vec<Self>, BadSource> {
        let all: Vec<Self> = given
            .iter()
            .map(|text| text.parse())
            .collect::<Result<_, _>>()?;
        if all.len() > MOST_SOURCES {
            return Err(BadSource::TooMany);
        }
        for (at, source) in all.iter().enumerate() {
            if all[..at].iter().any(|other| other.name == source.name) {
                return Err(BadSource::Twice(source.name.clone()));
            }
        }
        let is_replay = |source: &Self| matches!(source.road, Road::Replay { .. });
        if all.len() > 1 && all.iter().any(is_replay) {
            return Err(BadSource::NotAlone);
        }
        Ok(all)
    }

    /// Returns how many times as fast as it was a night is replayed; none for the ship's own instruments.
    pub fn rate(&self) -> Option<f64> {
        match self.road {
            Road::Replay { rate, .. } => Some(rate),
            Road::Udp(_) | Road::Tcp(_) | Road::Serial { .. } => None,
        }
    }

    /// Returns the road as it was given, without the name.
    pub fn road_text(&self) -> String {
        match &self.road {
            Road::Udp(address) => format!("udp://{address}"),
            Road::Tcp(host) => format!("tcp://{host}"),
            Road::Serial { path, baud } => format!("serial:{} ({baud} Bd)", path.display()),
            Road::Replay { path, rate } => format!("file:{} ({rate} ×)", path.display()),
        }
    }
}

/// Returns where each source stands for each quantity: main sources first, then in the order in which they are given.
pub fn orders(sources: &[SourceAddress]) -> Vec<[u8; 4]> {
    let place = |at: usize, of: usize| {
        let before = |other: usize| {
            let (this, that) = (sources[at].is_main[of], sources[other].is_main[of]);
            (!that, other) < (!this, at)
        };
        let count = (0..sources.len()).filter(|other| before(*other)).count();
        u8::try_from(count).unwrap_or(u8::MAX)
    };
    let of = |at| std::array::from_fn(|of| place(at, of));
    (0..sources.len()).map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(given: &[&str]) -> Result<Vec<SourceAddress>, BadSource> {
        let given: Vec<String> = given.iter().map(|text| (*text).to_owned()).collect();
        SourceAddress::all(&given)
    }

    #[test]
    fn each_road_is_read_with_its_name_and_settings() {
        let read = all(&[
            "udp://0.0.0.0:10110",
            "mast=tcp://gateway.ship:2000?main=wind+heading",
            "gps 2 = serial:/dev/ttyUSB0?baud=38400",
        ])
        .unwrap();
        let names: Vec<&str> = read.iter().map(|source| source.name.as_str()).collect();
        assert_eq!(names, ["udp://0.0.0.0:10110", "mast", "gps 2"]);
        assert_eq!(read[1].road, Road::Tcp("gateway.ship:2000".to_owned()));
        assert_eq!(read[1].is_main, [false, true, true, false]);
        let path = PathBuf::from("/dev/ttyUSB0");
        assert_eq!(read[2].road, Road::Serial { path, baud: 38_400 });
        let night = all(&["file:nights/drag.nmea?rate=60"]).unwrap();
        assert_eq!(night[0].rate(), Some(60.0));
        assert_eq!(read[0].rate(), None);
        assert_eq!(
            orders(&read),
            [[0, 1, 1, 0], [1, 0, 0, 1], [2, 2, 2, 2]],
            "the main source first, then as given"
        );
    }

    #[test]
    fn what_cannot_be_heard_is_refused_with_what_to_give() {
        for (given, words) in [
            (vec!["0.0.0.0:10110"], "says not how"),
            (vec!["udp://10110"], "is no address and port"),
            (vec!["tcp://:2000"], "is no address and port"),
            (vec!["tcp://host:70000"], "is no address and port"),
            (vec!["serial:"], "says not how"),
            (vec!["file:x?rate=0"], "means nothing here"),
            (vec!["udp://0.0.0.0:1?main=speed"], "means nothing here"),
            (vec!["a=udp://0.0.0.0:1", "a=udp://0.0.0.0:2"], "are called"),
            (vec!["udp://0.0.0.0:1", "file:x"], "stands alone"),
        ] {
            let error = all(&given).unwrap_err().to_string();
            assert!(error.contains(words), "{given:?}: {error}");
        }
    }
}
