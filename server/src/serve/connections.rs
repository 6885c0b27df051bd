//! Taking connections: each has so long to send the head of a request, and there are only so many at once,
//! and only a part of them from one address.

use crate::rate_limit::client_prefix;
use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::Request;
use axum::serve::Listener;
use hyper::body::Incoming;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto::Builder;
use hyper_util::server::graceful::GracefulShutdown;
use hyper_util::service::TowerToHyperService;
use std::collections::HashMap;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::sync::{Semaphore, watch};
use tower::ServiceExt as _;

/// How long the head of a request may take to arrive.
const HEAD: Duration = Duration::from_secs(15);
/// Connections at once. A ship has some dozens of devices, each with a stream and a few requests.
const AT_ONCE: usize = 2_000;
/// Of them from one address: a whole ship may stand behind one router.
const AT_ONCE_FROM_ONE: usize = 500;

/// How many connections stand from each address.
#[derive(Debug, Default)]
struct Standing(Mutex<HashMap<IpAddr, usize>>);

/// A place that one connection takes, until it is dropped.
#[derive(Debug)]
struct Place {
    standing: Arc<Standing>,
    from: IpAddr,
}

impl Standing {
    fn table(&self) -> MutexGuard<'_, HashMap<IpAddr, usize>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes a place for one more connection from an address; none if it has all that are for it.
    fn place(self: &Arc<Self>, from: IpAddr) -> Option<Place> {
        let from = client_prefix(from);
        let mut table = self.table();
        let count = table.entry(from).or_default();
        if *count >= AT_ONCE_FROM_ONE {
            return None;
        }
        *count += 1;
        Some(Place {
            standing: Arc::clone(self),
            from,
        })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut table = self.standing.table();
        if let Some(count) = table.get_mut(&self.from) {
            *count -= 1;
            if *count == 0 {
                table.remove(&self.from);
            }
        }
    }
}

/// Serves what `listener` brings until `closing` turns `true`, then waits for what is under way.
pub async fn serve<L: Listener<Addr = SocketAddr>>(
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
    let standing = Arc::new(Standing::default());
    loop {
        let next = async {
            let place = Arc::clone(&places).acquire_owned().await;
            (place, listener.accept().await)
        };
        let (place, (stream, from)) = tokio::select! {
            biased;
            // A sender that is gone has closed too.
            _ = closing.wait_for(|closing| *closing) => break,
            next = next => next,
        };
        let Some(own_place) = standing.place(from.ip()) else {
            tracing::debug!(%from, "too many connections from one address");
            continue;
        };
        let pages = router
            .clone()
            .map_request(move |request: Request<Incoming>| {
                let mut request = request.map(Body::new);
                request.extensions_mut().insert(ConnectInfo(from));
                request
            });
        let connection = builder
            .serve_connection(TokioIo::new(stream), TowerToHyperService::new(pages))
            .into_owned();
        let connection = under_way.watch(connection);
        tokio::spawn(async move {
            if let Err(error) = connection.await {
                tracing::debug!(%error, "a connection ended early");
            }
            drop((place, own_place));
        });
    }
    drop(listener);
    under_way.shutdown().await;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_cannot_take_every_place_and_gives_back_what_it_took() {
        let standing = Arc::new(Standing::default());
        let (one, other) = ("10.0.0.1".parse().unwrap(), "10.0.0.2".parse().unwrap());
        let mut taken: Vec<_> = (0..AT_ONCE_FROM_ONE)
            .map(|_| standing.place(one).unwrap())
            .collect();
        assert!(standing.place(one).is_none());
        assert!(standing.place(other).is_some());
        taken.pop();
        assert!(standing.place(one).is_some());
        drop(taken);
        assert!(standing.table().is_empty());
    }
}
