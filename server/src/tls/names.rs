//! The names and addresses by which a server is reached.

use std::collections::BTreeSet;
use std::fmt;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr};
use std::str::FromStr;

/// A host name or an address.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HostName {
    /// A host name, lower case.
    Host(String),
    /// An address.
    Address(IpAddr),
}

/// The text is neither a host name nor an address.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{0:?} is neither a host name nor an address: write `ship.home.arpa` or `192.168.4.1`, without `https://` and without a port"
)]
pub struct NotAName(String);

/// Names in a fixed order, each once.
pub type Names = BTreeSet<HostName>;

impl FromStr for HostName {
    type Err = NotAName;

    fn from_str(text: &str) -> Result<Self, NotAName> {
        let text = text.trim();
        let bare = text
            .strip_prefix('[')
            .and_then(|rest| rest.strip_suffix(']'));
        if let Ok(address) = bare.unwrap_or(text).parse() {
            return Ok(Self::Address(address));
        }
        // RFC 1123 section 2.1; a name of digits alone would be taken for an address.
        let host = text.trim_end_matches('.').to_ascii_lowercase();
        let is_label = |label: &str| {
            let is_letter = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'-';
            (1..=63).contains(&label.len())
                && label.bytes().all(is_letter)
                && !label.starts_with('-')
                && !label.ends_with('-')
        };
        let is_number = |label: &str| label.bytes().all(|byte| byte.is_ascii_digit());
        let last = host.rsplit('.').next().unwrap_or_default();
        if host.len() <= 253 && host.split('.').all(is_label) && !is_number(last) {
            Ok(Self::Host(host))
        } else {
            Err(NotAName(text.to_owned()))
        }
    }
}

impl fmt::Display for HostName {
    /// As it stands in a web address: an address of version 6 in brackets.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Host(host) => f.write_str(host),
            Self::Address(IpAddr::V4(address)) => address.fmt(f),
            Self::Address(IpAddr::V6(address)) => write!(f, "[{address}]"),
        }
    }
}

impl HostName {
    /// Reads the name out of a request's `Host`, which may carry a port.
    pub fn of_host_header(host: &str) -> Option<Self> {
        let without = match host.rsplit_once(':') {
            Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
            _ => host,
        };
        without.parse().ok()
    }

    /// Says whether this name stands for the machine itself only.
    pub fn is_loopback(&self) -> bool {
        match self {
            Self::Host(host) => host == "localhost",
            Self::Address(address) => address.is_loopback(),
        }
    }
}

/// Returns the names by which a machine always calls itself.
pub fn loopback() -> Names {
    Names::from([
        HostName::Host("localhost".to_owned()),
        HostName::Address(Ipv4Addr::LOCALHOST.into()),
        HostName::Address(Ipv6Addr::LOCALHOST.into()),
    ])
}

/// Returns the addresses that phones on the same network can use for this machine.
///
/// Of version 6 only those of a site's own network (RFC 4193): others change with every day or every
/// harbour.
///
/// # Errors
/// What the system says if it does not list its interfaces.
pub fn own_addresses() -> std::io::Result<Names> {
    let interfaces = if_addrs::get_if_addrs()?;
    let addresses = interfaces.iter().map(if_addrs::Interface::ip);
    let is_lasting = |address: &IpAddr| match address {
        IpAddr::V4(address) => !address.is_loopback() && !address.is_link_local(),
        IpAddr::V6(address) => address.is_unique_local(),
    };
    Ok(addresses
        .filter(is_lasting)
        .map(HostName::Address)
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_addresses_are_read_and_written_as_in_a_web_address() {
        let rows = [
            ("Ship.Home.Arpa.", "ship.home.arpa"),
            ("clearhawse", "clearhawse"),
            ("192.168.4.1", "192.168.4.1"),
            ("fd00::1", "[fd00::1]"),
            ("[fd00::1]", "[fd00::1]"),
            ("4u.example", "4u.example"),
        ];
        for (text, written) in rows {
            assert_eq!(text.parse::<HostName>().unwrap().to_string(), written);
        }
    }

    #[test]
    fn what_is_no_name_is_refused() {
        let long = "a".repeat(64);
        for text in [
            "",
            ".",
            "a..b",
            "-a",
            "a-",
            "https://ship",
            "ship:443",
            "ship/x",
            "a b",
            "*.ship",
            &long,
            "300.1.1.1",
            "é",
            "1.2",
            "user@ship",
        ] {
            assert!(text.parse::<HostName>().is_err(), "{text:?}");
        }
    }

    #[test]
    fn the_host_of_a_request_loses_its_port_alone() {
        let rows = [
            ("ship:8443", Some("ship")),
            ("192.168.4.1:80", Some("192.168.4.1")),
            ("[fd00::1]:443", Some("[fd00::1]")),
            ("[fd00::1]", Some("[fd00::1]")),
            ("ship:", Some("ship")),
            ("ship:https", None),
            ("evil.example/@ship", None),
        ];
        for (host, name) in rows {
            let found = HostName::of_host_header(host).map(|name| name.to_string());
            assert_eq!(found.as_deref(), name, "{host}");
        }
    }
}
