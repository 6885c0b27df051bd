//! What every request passes before it reaches a page or the interface.

use crate::api::error::ApiError;
use crate::assets;
use crate::clock::now_ms;
use crate::router::App;
use crate::session::{check_origin, host};
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use journal::address::PAGES;
use std::net::SocketAddr;

fn is_open(path: &str) -> bool {
    PAGES.iter().any(|page| page.is_open && page.path == path)
}

/// Lets a request that changes something through only from this server's own pages, or from no page.
///
/// # Errors
/// [`ApiError`] with status 403.
pub async fn own_pages(request: Request, next: Next) -> Result<Response, ApiError> {
    let changes = !matches!(*request.method(), Method::GET | Method::HEAD);
    if changes {
        let here = host(request.headers(), request.uri());
        check_origin(request.headers(), &here)?;
    }
    Ok(next.run(request).await)
}

/// Counts the requests of those who have not shown who they are, by address.
pub async fn rate_limit(State(app): State<App>, request: Request, next: Next) -> Response {
    if !app.sessions.is_known(request.headers(), app.secure) {
        let from = request.extensions().get::<ConnectInfo<SocketAddr>>();
        let from = from.map(|ConnectInfo(from)| from.ip());
        if !app.rate_limit.take(from, now_ms()) {
            let words = "too much is asked from this address: wait a moment";
            let mut response = ApiError::with(StatusCode::TOO_MANY_REQUESTS, words).into_response();
            response
                .headers_mut()
                .insert(header::RETRY_AFTER, HeaderValue::from_static("1"));
            return response;
        }
    }
    next.run(request).await
}

/// Lets only a device through that has shown who it is.
///
/// # Errors
/// [`ApiError`] with status 401, or 403 where its key no longer speaks.
pub async fn signed_in(
    State(app): State<App>,
    mut request: Request,
    next: Next,
) -> Result<Response, ApiError> {
    let caller = app
        .sessions
        .caller(&app.fleet, request.headers(), app.secure)
        .await?;
    request.extensions_mut().insert(caller);
    Ok(next.run(request).await)
}

/// Draws a page for a device that has shown who it is; anyone else gets the shell, which holds nothing
/// and lets the program on the device sign in.
pub async fn signed_in_or_shell(
    State(app): State<App>,
    mut request: Request,
    next: Next,
) -> Response {
    let headers = request.headers();
    if let Ok(caller) = app.sessions.caller(&app.fleet, headers, app.secure).await {
        request.extensions_mut().insert(caller);
        return next.run(request).await;
    }
    let is_open = is_open(request.uri().path());
    let mut response = assets::shell(request.headers()).into_response();
    response
        .headers_mut()
        .insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    if !is_open && response.status() == StatusCode::OK {
        *response.status_mut() = StatusCode::UNAUTHORIZED;
    }
    response
}
