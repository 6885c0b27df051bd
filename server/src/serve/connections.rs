//! Taking connections: each has so long to send the head of a request, and there are only so many at once.

use axum::Router;
use axum::body::Body;
use axum::http::Request;
use axum::serve::Listener;
use hyper::body::Incoming;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto::Builder;
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{Semaphore, watch};
use tower::ServiceExt as _;

/// How long the head of a request may take to arrive.
const HEAD: Duration = Duration::from_secs(15);
/// Connections at once. A ship has some dozens of devices, each with a stream and a few requests.
const AT_ONCE: usize = 2_000;

/// Serves what `listener` brings until `closing` turns `true`, then waits for what is under way.
pub async fn serve<L: Listener>(
    mut listener: L,
    router: Router,
    mut closing: watch::Receiver<bool>,
) {
    let mut builder = Builder::new(TokioExecutor::new());
    builder
        .http1()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD);
    builder.http2().timer(TokioTimer::new());
    let under_way = GracefulShutdown::new();
    let places = Arc::new(Semaphore::new(AT_ONCE));
    loop {
        let next = async {
            let place = Arc::clone(&places).acquire_owned().await;
            (place, listener.accept().await)
        };
        let (place, (stream, _)) = tokio::select! {
            biased;
            // A sender that is gone has closed too.
            _ = closing.wait_for(|closing| *closing) => break,
            next = next => next,
        };
        let pages = router
            .clone()
            .map_request(|request: Request<Incoming>| request.map(Body::new));
        let connection = builder
            .serve_connection(TokioIo::new(stream), TowerToHyperService::new(pages))
            .into_owned();
        let connection = under_way.watch(connection);
        tokio::spawn(async move {
            if let Err(error) = connection.await {
                tracing::debug!(%error, "a connection ended early");
            }
            drop(place);
        });
    }
    drop(listener);
    under_way.shutdown().await;
}
