//! What stands at which address.

use crate::api::error::ApiError;
use crate::enrol::Enroller;
use crate::fleet::Fleet;
use crate::rate_limit::RateLimiter;
use crate::read_api::{ReadApi, nothing_at};
use crate::session::Sessions;
use crate::{api, assets, middleware, pages};
use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::{HeaderName, HeaderValue, StatusCode, Uri};
use axum::middleware::{from_fn, from_fn_with_state};
use axum::routing::get;
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
/// How long a request may take to arrive and be answered.
const PATIENCE: Duration = Duration::from_mins(1);

/// What every handler shares. Cheap to clone.
#[derive(Debug, Clone)]
pub struct App {
    /// The vessels.
    pub fleet: Arc<Fleet>,
    /// Enrols devices.
    pub enroller: Arc<Enroller>,
    /// Opens and looks up sessions.
    pub sessions: Arc<Sessions>,
    /// Counts the requests of those who have not signed in, and refuses too many.
    pub rate_limit: Arc<RateLimiter>,
    /// Whether this is an office ashore: a company of people, and no vessel.
    pub is_ashore: bool,
    /// Whether requests come over HTTPS.
    pub secure: bool,
    /// Turns `true` when the server closes.
    pub closing: watch::Receiver<bool>,
}

async fn nothing(uri: Uri) -> ApiError {
    nothing_at(uri.path())
}

/// Makes the whole router.
pub fn router(app: App) -> Router {
    let mut reads = ReadApi::new();
    let routes = api::add(reads.take_routes());
    let reads = Arc::new(reads);
    let elsewhere = Router::new()
        .route("/api/v1/{*path}", get(nothing))
        .layer(from_fn_with_state(app.clone(), middleware::signed_in));
    let api = routes
        .into_router(&app)
        .merge(elsewhere)
        .layer(from_fn(middleware::own_pages))
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
        .merge(api::health_routes().into_router(&app))
        // Not compressed and without a time limit: a stream that must not be held back.
        .merge(api::streams().into_router(&app))
        .merge(api)
        .merge(assets::routes())
        .merge(pages::router(&app, &reads).layer(from_fn_with_state(
            app.clone(),
            middleware::signed_in_or_shell,
        )))
        .fallback(assets::serve)
        .layer(from_fn_with_state(app.clone(), middleware::rate_limit))
        .layer(header("x-content-type-options", "nosniff"))
        .layer(header("referrer-policy", "no-referrer"))
        .layer(header("cross-origin-opener-policy", "same-origin"))
        .layer(TraceLayer::new_for_http())
        .with_state(app)
}

#[cfg(test)]
mod tests;
