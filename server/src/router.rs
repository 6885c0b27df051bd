//! What stands at which address.

use crate::enrol::Desk;
use crate::fleet::Fleet;
use crate::session::Sessions;
use crate::strangers::Strangers;
use crate::{api, assets, gate, live, pages};
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::{HeaderName, HeaderValue, StatusCode};
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::{get, post};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;
use tower_http::compression::CompressionLayer;
use tower_http::decompression::RequestDecompressionLayer;
use tower_http::limit::RequestBodyLimitLayer;
use tower_http::set_header::SetResponseHeaderLayer;
use tower_http::timeout::TimeoutLayer;
use tower_http::trace::TraceLayer;

/// A body as it travels, bytes at most.
const MAX_SENT: usize = 1024 * 1024;
/// A body unpacked, bytes at most.
const MAX_UNPACKED: usize = 8 * 1024 * 1024;
/// A page of records unpacked, bytes at most: enough that one a little too large is told how large it may be.
const MAX_PAGE: usize = 2 * record::sync::MAX_PAGE_BYTES;
/// How long a request may take to arrive and be answered.
const PATIENCE: Duration = Duration::from_mins(1);

/// What every handler shares. Cheap to clone.
#[derive(Debug, Clone)]
pub struct App {
    /// The vessels.
    pub fleet: Arc<Fleet>,
    /// Where devices enrol.
    pub desk: Arc<Desk>,
    /// Who is signed in.
    pub sessions: Arc<Sessions>,
    /// What those may ask who are not.
    pub strangers: Arc<Strangers>,
    /// Whether this is an office ashore: a house of people, and no vessel.
    pub is_ashore: bool,
    /// Whether requests come over HTTPS.
    pub secure: bool,
    /// Turns `true` when the server closes.
    pub closing: watch::Receiver<bool>,
}

/// Makes the whole router.
pub fn router(app: App) -> Router {
    let gated = Router::new()
        .route("/session", get(api::session::who).delete(api::session::end))
        .route("/sync/have", post(api::sync::have))
        .route(
            "/sync/push",
            post(api::sync::push).layer(DefaultBodyLimit::max(MAX_PAGE)),
        )
        .route("/sync/pull", post(api::sync::pull))
        .route(
            "/photos/{name}",
            get(api::photos::get).put(api::photos::put),
        )
        .route("/photos/{name}/part", post(api::photo_parts::put))
        .route(
            "/vessels/{vessel}/photos/lacking",
            post(api::photo_parts::lacking),
        )
        .route("/reckon/{name}", post(api::reckon::reckon))
        .route("/crew/person", post(api::crew::person))
        .route("/crew/code", post(api::crew::code))
        .route("/crew/withdraw", post(api::crew::withdraw))
        .route("/crew/ship", post(api::crew::ship))
        .route(
            "/vessels/{vessel}/records.cborseq",
            get(api::files::vessel_records),
        )
        .route(
            "/vessels/{vessel}/runs/{run}/records.cborseq",
            get(api::files::run_records),
        )
        .route(
            "/vessels/{vessel}/runs/{run}/records.csv",
            get(api::files::run_table),
        )
        .merge(api::log::routes())
        .route("/{*path}", get(api::get))
        .layer(from_fn_with_state(app.clone(), gate::signed_in));
    let open = Router::new()
        .route("/enrol", get(api::door).post(api::enrol))
        .route("/session/challenge", post(api::session::challenge))
        .route("/session", post(api::session::begin));
    let api = gated
        .merge(open)
        .layer(from_fn(gate::own_pages))
        .layer(DefaultBodyLimit::max(MAX_UNPACKED))
        .layer(RequestDecompressionLayer::new())
        .layer(RequestBodyLimitLayer::new(MAX_SENT))
        .layer(TimeoutLayer::with_status_code(
            StatusCode::REQUEST_TIMEOUT,
            PATIENCE,
        ))
        .layer(CompressionLayer::new());
    let header = |name: &'static str, value: &'static str| {
        SetResponseHeaderLayer::if_not_present(
            HeaderName::from_static(name),
            HeaderValue::from_static(value),
        )
    };
    Router::new()
        .route("/healthz", get(api::health))
        // Not compressed and without a time limit: a stream that must not be held back.
        .route(
            "/api/v1/live",
            get(live::live).layer(from_fn_with_state(app.clone(), gate::signed_in)),
        )
        .nest("/api/v1", api)
        .merge(assets::routes())
        .merge(pages::router(&app).layer(from_fn_with_state(app.clone(), gate::signed_in_or_shell)))
        .fallback(assets::serve)
        .layer(from_fn_with_state(app.clone(), gate::strangers))
        .layer(header("x-content-type-options", "nosniff"))
        .layer(header("referrer-policy", "no-referrer"))
        .layer(header("cross-origin-opener-policy", "same-origin"))
        .layer(TraceLayer::new_for_http())
        .with_state(app)
}
