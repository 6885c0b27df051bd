//! What the plain address serves where HTTPS is on: a page that hands out the ship's certificate and says
//! how each kind of phone comes to trust it. Everything else is sent to the secure address.

mod page;
mod profile;

use crate::router::App;
use crate::tls::Tls;
use crate::tls::files::pem;
use crate::tls::names::HostName;
use crate::{api, middleware};
use axum::Router;
use axum::extract::State;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HOST, LOCATION,
    REFERRER_POLICY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderName, HeaderValue, StatusCode, Uri};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Response};
use axum::routing::get;
use sha2::{Digest as _, Sha256};
use std::net::SocketAddr;
use std::sync::Arc;

/// Nothing runs on this page and nothing is fetched for it.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; \
    form-action 'none'; frame-ancestors 'none'";

/// What the handlers share.
#[derive(Debug, Clone)]
pub struct CaDownload {
    tls: Arc<Tls>,
    plain: SocketAddr,
    secure: SocketAddr,
}

impl CaDownload {
    /// Hands out what `tls` has; both addresses are listened on.
    pub fn new(tls: Arc<Tls>, plain: SocketAddr, secure: SocketAddr) -> Self {
        Self { tls, plain, secure }
    }

    /// Returns the secure address that goes with a name.
    pub fn secure_at(&self, name: &HostName) -> String {
        match self.secure.port() {
            443 => format!("https://{name}"),
            port => format!("https://{name}:{port}"),
        }
    }

    /// Returns the plain address that goes with a name.
    pub fn plain_at(&self, name: &HostName) -> String {
        match self.plain.port() {
            80 => format!("http://{name}"),
            port => format!("http://{name}:{port}"),
        }
    }

    /// Returns the name that a request came by, if it is one of ours.
    fn asked(&self, headers: &HeaderMap) -> Option<HostName> {
        let host = headers.get(HOST)?.to_str().ok()?;
        HostName::of_host_header(host).filter(|name| self.tls.is_for(name))
    }
}

/// Returns the SHA-256 of a certificate as phones show it.
pub fn fingerprint(der: &[u8]) -> String {
    let pairs = Sha256::digest(der);
    let pairs: Vec<String> = pairs.iter().map(|byte| format!("{byte:02X}")).collect();
    pairs.join(":")
}

/// Makes the router of the plain address.
pub fn router(ca_download: CaDownload, app: App) -> Router {
    let health = api::health_routes()
        .into_router(&app)
        .with_state(app.clone());
    let page = match ca_download.tls.authority() {
        Some(_) => Router::new()
            .route("/", get(show))
            .route("/ca.crt", get(certificate))
            .route("/ca.pem", get(certificate_text))
            .route("/ca.mobileconfig", get(apple_profile)),
        None => Router::new(),
    };
    page.fallback(elsewhere)
        .with_state(ca_download)
        .merge(health)
        .layer(from_fn_with_state(app, middleware::rate_limit))
}

fn answer(kind: &'static str, name: Option<&'static str>, body: impl IntoResponse) -> Response {
    let mut response = body.into_response();
    let mut put = |header: HeaderName, value: &'static str| {
        response
            .headers_mut()
            .insert(header, HeaderValue::from_static(value));
    };
    put(CONTENT_TYPE, kind);
    put(CACHE_CONTROL, "no-store");
    put(X_CONTENT_TYPE_OPTIONS, "nosniff");
    put(CONTENT_SECURITY_POLICY, POLICY);
    put(REFERRER_POLICY, "no-referrer");
    if let Some(name) = name {
        put(CONTENT_DISPOSITION, name);
    }
    response
}

fn der(ca_download: &CaDownload) -> Vec<u8> {
    let certificate = ca_download.tls.authority();
    certificate.map(|der| der.to_vec()).unwrap_or_default()
}

async fn show(State(ca_download): State<CaDownload>, headers: HeaderMap) -> Response {
    let name = ca_download
        .asked(&headers)
        .filter(|name| !name.is_loopback())
        .or_else(|| ca_download.tls.first_name())
        .unwrap_or_else(|| HostName::Address(ca_download.plain.ip()));
    let secure = ca_download.tls.first_name().unwrap_or_else(|| name.clone());
    let page = page::draw(&page::Told {
        plain: ca_download.plain_at(&name),
        secure: ca_download.secure_at(&secure),
        fingerprint: fingerprint(&der(&ca_download)),
    });
    answer("text/html; charset=utf-8", None, page)
}

async fn certificate(State(ca_download): State<CaDownload>) -> Response {
    // Phones open the certificate by this kind, and by this name where they only keep it.
    let name = Some("attachment; filename=\"clearhawse-ship.crt\"");
    answer("application/x-x509-ca-cert", name, der(&ca_download))
}

async fn certificate_text(State(ca_download): State<CaDownload>) -> Response {
    let name = Some("attachment; filename=\"clearhawse-ship.pem\"");
    let text = pem("CERTIFICATE", &der(&ca_download));
    answer("application/x-pem-file", name, text)
}

async fn apple_profile(State(ca_download): State<CaDownload>) -> Response {
    let profile = profile::of(&der(&ca_download));
    answer("application/x-apple-aspen-config", None, profile)
}

/// Sends a request to the same place at the secure address, if it came to one of our names: whoever
/// carries a request here under another name is not helped to lead people elsewhere.
async fn elsewhere(
    State(ca_download): State<CaDownload>,
    headers: HeaderMap,
    uri: Uri,
) -> Response {
    const KIND: &str = "text/plain; charset=utf-8";
    let Some(name) = ca_download.asked(&headers) else {
        let words = "This server is not called that. Ask for its name or address.\n";
        return answer(KIND, None, (StatusCode::MISDIRECTED_REQUEST, words));
    };
    let path = uri.path_and_query().map_or("/", |path| path.as_str());
    let to = format!("{}{path}", ca_download.secure_at(&name));
    let mut response = answer(
        KIND,
        None,
        (StatusCode::PERMANENT_REDIRECT, "Over there.\n"),
    );
    match HeaderValue::from_str(&to) {
        Ok(to) => response.headers_mut().insert(LOCATION, to),
        Err(_) => return StatusCode::BAD_REQUEST.into_response(),
    };
    response
}
