//! The web pages' files, carried inside the program, and how they are handed out.
//!
//! Files under `/assets/` are named by their content and kept by browsers for ever; the others (the shell,
//! the offline worker, the app manifest) are asked for again each time and answered 304 where unchanged.

use std::cmp::Ordering;
use std::io::Read as _;

use axum::Router;
use axum::body::{Body, Bytes};
use axum::http::header::{
    ACCEPT_ENCODING, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_SECURITY_POLICY, CONTENT_TYPE, ETAG,
    IF_NONE_MATCH, REFERRER_POLICY, VARY, X_CONTENT_TYPE_OPTIONS,
};
use axum::http::{HeaderMap, HeaderValue, Response, StatusCode, Uri};
use axum::routing::get;
use flate2::read::GzDecoder;

include!(concat!(env!("OUT_DIR"), "/site.rs"));

/// What a page without inline scripts may load: only what this server hands out.
///
/// Compiling wasm needs `'wasm-unsafe-eval'`. Pages drawn by the server carry a nonce on top of this.
pub const STATIC_POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; \
    style-src 'self'; img-src 'self' data: blob:; media-src 'self' data:; font-src 'self'; connect-src 'self'; \
    manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'self'; \
    frame-ancestors 'none'";

const FOR_EVER: &str = "public, max-age=31536000, immutable";
const ASK_AGAIN: &str = "no-cache";
const HASHED: &str = "/assets/";
const SHELL: &str = "/shell.html";

const NOT_BUILT_IN: &str = "<!DOCTYPE html>\n<html lang=\"en\"><title>Built without web pages</title>\n\
    <h1>Built without web pages</h1>\n\
    <p>This server was built without its web pages. <code>cargo xtask build</code> builds it with them.\n\
    Its programming interface under <code>/api/</code> works.</p></html>\n";

/// One file, with its compressed copies where they are smaller.
#[derive(Debug, Clone, Copy)]
pub struct Asset {
    /// What the sources call it, such as `main.css`.
    pub logical: &'static str,
    /// Where it is served.
    pub path: &'static str,
    /// SHA-256 of its bytes as they are, in hexadecimal.
    pub sha256: &'static str,
    /// As it is; left out where there is a copy in gzip, which is unpacked for the rare client that takes no coding.
    pub plain: Option<&'static [u8]>,
    pub brotli: Option<&'static [u8]>,
    pub gzip: Option<&'static [u8]>,
}

/// Where the files are that the head of a page names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Manifest {
    /// Identity of this build of the pages; goes into `<meta name="clearhawse-build">`.
    pub build: &'static str,
    /// `<script src>`: before the style sheet, neither deferred nor a module, as it sets the light.
    pub boot: &'static str,
    /// `<link rel="stylesheet">`.
    pub css: &'static str,
    /// `<meta name="clearhawse-app">` and `<link rel="modulepreload">`.
    pub app: &'static str,
    /// `<meta name="clearhawse-wasm">` and `<link rel="preload" as="fetch" crossorigin>`.
    pub wasm: &'static str,
    /// `<link rel="icon" type="image/svg+xml">`.
    pub icon: &'static str,
    /// `<link rel="apple-touch-icon">`.
    pub touch_icon: &'static str,
}

/// Returns where the head's files are, or `None` if the program was built without web pages.
pub fn manifest() -> Option<Manifest> {
    Some(Manifest {
        build: BUILD,
        boot: path_of("boot.js")?,
        css: path_of("main.css")?,
        app: path_of("clearhawse.js")?,
        wasm: path_of("clearhawse.wasm")?,
        icon: path_of("icons/clearhawse.svg")?,
        touch_icon: path_of("icons/clearhawse-180.png")?,
    })
}

/// Returns where the file that the sources call `logical` is served.
pub fn path_of(logical: &str) -> Option<&'static str> {
    ASSETS
        .iter()
        .find(|asset| asset.logical == logical)
        .map(|asset| asset.path)
}

/// Returns the file that is served at `path`.
pub fn find(path: &str) -> Option<&'static Asset> {
    ASSETS.iter().find(|asset| asset.path == path)
}

/// Returns the routes of all files, for the program's router.
pub fn routes<S: Clone + Send + Sync + 'static>() -> Router<S> {
    let mut routes = Router::new().route("/assets/{*rest}", get(serve));
    for path in [SHELL, "/sw.js", "/manifest.webmanifest", "/notices.txt"] {
        routes = routes.route(path, get(serve));
    }
    routes
}

/// Answers with the file at the request's path.
pub async fn serve(uri: Uri, headers: HeaderMap) -> Response<Body> {
    match find(uri.path()) {
        Some(asset) => asset.respond(&headers),
        None if ASSETS.is_empty() => not_built_in(),
        None => plain(
            StatusCode::NOT_FOUND,
            "text/plain; charset=utf-8",
            "no such file\n",
        ),
    }
}

/// Answers with the content-free page into which the browser mounts the program.
pub fn shell(headers: &HeaderMap) -> Response<Body> {
    find(SHELL).map_or_else(not_built_in, |asset| asset.respond(headers))
}

/// Answers that the program carries no web pages.
pub fn not_built_in() -> Response<Body> {
    plain(
        StatusCode::SERVICE_UNAVAILABLE,
        "text/html; charset=utf-8",
        NOT_BUILT_IN,
    )
}

fn plain(status: StatusCode, mime: &'static str, text: &'static str) -> Response<Body> {
    let mut response = Response::new(Body::from(text));
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(mime));
    headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
    headers.insert(
        CONTENT_SECURITY_POLICY,
        HeaderValue::from_static(STATIC_POLICY),
    );
    response
}

/// How the bytes travel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Coding {
    Brotli,
    Gzip,
    Identity,
}

impl Asset {
    /// Returns whether the name changes with the content, so that a copy never goes stale.
    pub fn is_immutable(&self) -> bool {
        self.path.starts_with(HASHED)
    }

    /// Returns the media type that the name's ending stands for.
    pub fn mime(&self) -> &'static str {
        match self.path.rsplit('.').next().unwrap_or_default() {
            "css" => "text/css; charset=utf-8",
            "html" => "text/html; charset=utf-8",
            "js" => "text/javascript; charset=utf-8",
            "json" => "application/json",
            "png" => "image/png",
            "svg" => "image/svg+xml",
            "txt" => "text/plain; charset=utf-8",
            "wasm" => "application/wasm",
            "webmanifest" => "application/manifest+json",
            "woff2" => "font/woff2",
            _ => "application/octet-stream",
        }
    }

    /// Answers a request for this file: in the best coding the client takes, or 304 if it has it.
    pub fn respond(&self, request: &HeaderMap) -> Response<Body> {
        let (coding, bytes) = self.coded(request);
        let suffix = match coding {
            Coding::Brotli => "-br",
            Coding::Gzip => "-gz",
            Coding::Identity => "",
        };
        let tag = format!("\"{}{suffix}\"", &self.sha256[..32.min(self.sha256.len())]);
        let known = has_tag(request, &tag);
        let mut response = Response::new(if known {
            Body::empty()
        } else {
            Body::from(bytes.map_or_else(|| self.unpacked(), Bytes::from_static))
        });
        let headers = response.headers_mut();
        let lasting = if self.is_immutable() {
            FOR_EVER
        } else {
            ASK_AGAIN
        };
        headers.insert(CACHE_CONTROL, HeaderValue::from_static(lasting));
        headers.insert(VARY, HeaderValue::from_static("accept-encoding"));
        if let Ok(tag) = HeaderValue::from_str(&tag) {
            headers.insert(ETAG, tag);
        }
        if known {
            *response.status_mut() = StatusCode::NOT_MODIFIED;
            return response;
        }
        headers.insert(CONTENT_TYPE, HeaderValue::from_static(self.mime()));
        headers.insert(X_CONTENT_TYPE_OPTIONS, HeaderValue::from_static("nosniff"));
        match coding {
            Coding::Brotli => headers.insert(CONTENT_ENCODING, HeaderValue::from_static("br")),
            Coding::Gzip => headers.insert(CONTENT_ENCODING, HeaderValue::from_static("gzip")),
            Coding::Identity => None,
        };
        // The shell keeps these headers for as long as it stays in a phone's cache.
        if self.path == SHELL {
            headers.insert(
                CONTENT_SECURITY_POLICY,
                HeaderValue::from_static(STATIC_POLICY),
            );
            headers.insert(REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
        }
        response
    }

    /// Returns it as it is, from its copy in gzip.
    fn unpacked(&self) -> Bytes {
        let mut bytes = Vec::new();
        let mut reader = GzDecoder::new(self.gzip.unwrap_or_default());
        let read = reader.read_to_end(&mut bytes);
        read.expect("invariant: the build packed it");
        bytes.into()
    }

    /// Returns the best coding that the client takes, with the bytes in it where they are carried so.
    fn coded(&self, request: &HeaderMap) -> (Coding, Option<&'static [u8]>) {
        let brotli = self
            .brotli
            .map(|bytes| (Coding::Brotli, bytes, accepts(request, "br")));
        let gzip = self
            .gzip
            .map(|bytes| (Coding::Gzip, bytes, accepts(request, "gzip")));
        // Of equals the last wins, so the smaller one stands last.
        [gzip, brotli]
            .into_iter()
            .flatten()
            .filter(|(.., weight)| *weight > 0.0)
            .max_by(|one, other| one.2.partial_cmp(&other.2).unwrap_or(Ordering::Equal))
            .map_or((Coding::Identity, self.plain), |(coding, bytes, _)| {
                (coding, Some(bytes))
            })
    }
}

/// Returns the weight that the client gives a coding: RFC 9110 sections 12.4.2 and 12.5.3, 0 if none.
fn accepts(request: &HeaderMap, coding: &str) -> f32 {
    let mut any = 0.0;
    for value in request.get_all(ACCEPT_ENCODING) {
        for item in value.to_str().unwrap_or_default().split(',') {
            let (name, rest) = item.split_once(';').unwrap_or((item, ""));
            let weight = match rest.trim().strip_prefix("q=") {
                Some(weight) => weight.trim().parse().unwrap_or(0.0),
                None => 1.0,
            };
            match name.trim() {
                name if name.eq_ignore_ascii_case(coding) => return weight,
                "*" => any = weight,
                _ => {}
            }
        }
    }
    any
}

/// Returns whether the client holds the content of this tag: RFC 9110 section 13.1.2.
fn has_tag(request: &HeaderMap, tag: &str) -> bool {
    request
        .get_all(IF_NONE_MATCH)
        .iter()
        .flat_map(|value| value.to_str().unwrap_or_default().split(','))
        .map(str::trim)
        .any(|known| known == "*" || known.trim_start_matches("W/") == tag)
}

#[cfg(test)]
mod tests;
