//! What a request says of where it was sent, where it comes from, and whose it is.

use crate::api::error::ApiError;
use axum::http::{HeaderMap, StatusCode, header};

/// The cookie's name.
pub const COOKIE: &str = "clearhawse-session";
/// The cookie's name over HTTPS: browsers hold its rules (RFC 6265bis, 4.1.3.2).
pub const SECURE_COOKIE: &str = "__Host-clearhawse-session";

/// Returns the host and port that a request was sent to.
pub fn host(headers: &HeaderMap, uri: &axum::http::Uri) -> String {
    let named = headers
        .get(header::HOST)
        .and_then(|host| host.to_str().ok());
    let named = named.or_else(|| uri.authority().map(axum::http::uri::Authority::as_str));
    named.unwrap_or_default().to_ascii_lowercase()
}

/// Returns the host and port of an origin such as `https://ship.home.arpa:8443`.
pub(super) fn host_of(origin: &str) -> Option<String> {
    let uri: axum::http::Uri = origin.parse().ok()?;
    let is_web = matches!(uri.scheme_str(), Some("http" | "https"));
    let bare = matches!(uri.path(), "" | "/") && uri.query().is_none();
    let host = uri.authority()?.as_str().to_ascii_lowercase();
    (is_web && bare && !host.contains('@')).then_some(host)
}

/// Says whether a request that changes something comes from this server's own pages, or from no page.
///
/// # Errors
/// [`ApiError`] with status 403 if another site's page sent it.
pub fn check_origin(headers: &HeaderMap, here: &str) -> Result<(), ApiError> {
    let refuse = || {
        ApiError::with(
            StatusCode::FORBIDDEN,
            "this request comes from another site's page",
        )
    };
    let text = |name: &str| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
    if text("sec-fetch-site").is_some_and(|site| !matches!(site, "same-origin" | "none")) {
        return Err(refuse());
    }
    match text("origin") {
        None => Ok(()),
        Some(origin) if host_of(origin).as_deref() == Some(here) => Ok(()),
        Some(_) => Err(refuse()),
    }
}

/// The name of the session's cookie. Over HTTPS there is the one name only that other hosts and plain HTTP
/// cannot set: with a second, somebody beside the ship could have a phone work in their session.
const fn cookie_name(is_secure: bool) -> &'static str {
    if is_secure { SECURE_COOKIE } else { COOKIE }
}

pub(super) fn cookie_value(headers: &HeaderMap, is_secure: bool) -> Option<[u8; 32]> {
    let own = cookie_name(is_secure);
    let pairs = headers
        .get_all(header::COOKIE)
        .iter()
        .filter_map(|line| line.to_str().ok())
        .flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='));
    let value = pairs
        .filter(|(name, _)| *name == own)
        .find_map(|(_, value)| record::hex::decode(value))?;
    value.try_into().ok()
}

pub(super) fn set_cookie(value: &str, age_s: i64, is_secure: bool) -> String {
    let name = cookie_name(is_secure);
    let secure = if is_secure { "; Secure" } else { "" };
    format!("{name}={value}; Path=/; Max-Age={age_s}; HttpOnly; SameSite=Strict{secure}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn any_text_is_an_origin_or_is_none(text in "(https?://)?\\PC{0,40}") {
            if let Some(host) = host_of(&text) {
                prop_assert!(text.to_ascii_lowercase().contains(&host));
                prop_assert_eq!(host_of(&format!("http://{host}")), Some(host));
            }
        }

        #[test]
        fn a_host_is_read_as_it_was_written(
            host in "[a-z0-9]([a-z0-9.-]{0,20}[a-z0-9])?(:[1-9][0-9]{0,3})?",
            scheme in "https?",
        ) {
            prop_assert_eq!(host_of(&format!("{scheme}://{host}")), Some(host.clone()));
            prop_assert_eq!(host_of(&format!("{scheme}://{host}/")), Some(host.clone()));
            prop_assert_eq!(host_of(&format!("{scheme}://{host}/a")), None);
        }

        #[test]
        fn a_session_is_found_among_any_cookies(
            before in "[ -:<-~]{0,40}",
            after in "[ -~]{0,40}",
            value in any::<[u8; 32]>(),
            is_secure in any::<bool>(),
        ) {
            prop_assume!(!before.contains("clearhawse"));
            let name = if is_secure { SECURE_COOKIE } else { COOKIE };
            let line = format!("{before}; {name}={}; {after}", record::hex::encode(&value));
            let mut headers = HeaderMap::new();
            headers.insert(header::COOKIE, line.parse().unwrap());
            prop_assert_eq!(cookie_value(&headers, is_secure), Some(value));
            prop_assert_eq!(cookie_value(&headers, !is_secure), None);
        }

        #[test]
        fn any_cookies_are_a_session_or_none(line in prop::collection::vec(any::<u8>(), 0..80)) {
            let mut headers = HeaderMap::new();
            if let Ok(line) = axum::http::HeaderValue::from_bytes(&line) {
                headers.insert(header::COOKIE, line);
            }
            prop_assert_eq!(cookie_value(&headers, true), None);
            prop_assert_eq!(cookie_value(&headers, false), None);
        }
    }

    #[test]
    fn only_a_web_address_without_a_path_is_an_origin() {
        assert_eq!(
            host_of("http://Ship.Home.Arpa:8787").as_deref(),
            Some("ship.home.arpa:8787")
        );
        assert_eq!(host_of("https://10.0.0.2").as_deref(), Some("10.0.0.2"));
        for bad in [
            "null",
            "",
            "ftp://ship",
            "http://ship/path",
            "http://a@ship",
            "ship:80",
        ] {
            assert_eq!(host_of(bad), None, "{bad}");
        }
    }

    #[test]
    fn another_sites_page_is_told_from_our_own() {
        let with = |pairs: &[(&'static str, &'static str)]| {
            let mut headers = HeaderMap::new();
            for (name, value) in pairs {
                headers.insert(*name, value.parse().unwrap());
            }
            check_origin(&headers, "ship:8787").is_ok()
        };
        assert!(with(&[]));
        assert!(with(&[
            ("origin", "http://ship:8787"),
            ("sec-fetch-site", "same-origin")
        ]));
        assert!(!with(&[("origin", "http://elsewhere:8787")]));
        assert!(!with(&[("origin", "null")]));
        assert!(!with(&[("origin", "http://ship")]), "another port");
        assert!(!with(&[("sec-fetch-site", "cross-site")]));
        assert!(!with(&[("sec-fetch-site", "same-site")]));
    }

    #[test]
    fn a_cookie_keeps_scripts_and_other_sites_out() {
        let plain = set_cookie("ab", 60, false);
        assert!(plain.contains("HttpOnly") && plain.contains("SameSite=Strict"));
        assert!(!plain.contains("Secure"));
        let secure = set_cookie("ab", 60, true);
        assert!(
            secure.starts_with("__Host-") && secure.ends_with("Secure"),
            "{secure}"
        );
        let mut headers = HeaderMap::new();
        let value = record::hex::encode(&[7; 32]);
        let line = format!("other=1; {SECURE_COOKIE}={value}");
        headers.insert(header::COOKIE, line.parse().unwrap());
        assert_eq!(cookie_value(&headers, true), Some([7; 32]));
    }

    #[test]
    fn each_scheme_knows_its_own_cookie_and_not_the_others() {
        let (ours, planted) = ([7; 32], [9; 32]);
        let mut headers = HeaderMap::new();
        let mut send = |name: &str, value: &[u8]| {
            let line = format!("{name}={}", record::hex::encode(value));
            headers.append(header::COOKIE, line.parse().unwrap());
            [true, false].map(|is_secure| cookie_value(&headers, is_secure))
        };
        assert_eq!(send(COOKIE, &planted), [None, Some(planted)]);
        assert_eq!(send(SECURE_COOKIE, &ours), [Some(ours), Some(planted)]);
    }
}
