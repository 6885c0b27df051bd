//! Taking connections: each has so long to send its first byte, then the head of a request, and may stand idle
//! for so long; there are only so many at once, and only a part of them from one address.

use super::places::{Place, Places};
use axum::Router;
use axum::body::Body;
use axum::extract::ConnectInfo;
use axum::http::{Request, Response};
use axum::serve::Listener;
use http_body_util::BodyExt as _;
use hyper::body::Incoming;
use hyper_util::rt::{TokioExecutor, TokioIo, TokioTimer};
use hyper_util::server::conn::auto::Builder;
use hyper_util::service::TowerToHyperService;
use std::io;
use std::net::SocketAddr;
use std::pin::pin;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::net::TcpStream;
use tokio::sync::{mpsc, watch};
use tokio::time::Instant;
use tokio_rustls::server::TlsStream;
use tower::ServiceExt as _;

/// How long a connection may stand before its first byte arrives. Whoever opens one has something to say.
pub const FIRST_BYTE: Duration = Duration::from_secs(5);
/// How long the head of a request may take to arrive.
const HEAD: Duration = Duration::from_secs(15);
/// How long a connection may stand without a request that is being answered, once it has had one.
const IDLE: Duration = Duration::from_mins(1);
/// How long a connection that is being closed may take to finish what is under way.
const FAREWELL: Duration = Duration::from_secs(5);
/// How often whoever speaks HTTP/2 is asked for a sign of life, and how long that may take.
const PING: (Duration, Duration) = (Duration::from_secs(20), Duration::from_secs(20));

/// A connection whose first byte can be waited for.
pub trait Spoken {
    /// Waits until something has arrived, and takes nothing of it.
    ///
    /// # Errors
    /// What the system says if the connection fails first.
    fn first_byte(&self) -> impl Future<Output = io::Result<()>> + Send;
}

impl Spoken for TcpStream {
    async fn first_byte(&self) -> io::Result<()> {
        self.peek(&mut [0]).await.map(drop)
    }
}

impl Spoken for TlsStream<TcpStream> {
    /// Who has agreed on keys has spoken.
    async fn first_byte(&self) -> io::Result<()> {
        Ok(())
    }
}

/// What a connection is doing: requests that are being answered, or since when there are none.
#[derive(Debug)]
struct Work(Mutex<(usize, Instant, bool)>);

/// A request that is being answered, until it is dropped.
#[derive(Debug)]
struct Busy(Arc<Work>);

impl Work {
    fn new() -> Arc<Self> {
        Arc::new(Self(Mutex::new((0, Instant::now(), false))))
    }

    fn begin(self: &Arc<Self>) -> Busy {
        let mut state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        state.0 += 1;
        state.2 = true;
        Busy(Arc::clone(self))
    }

    /// Returns when the connection has stood idle for too long, as far as is known now.
    fn ends(&self) -> Instant {
        let (open, since, has_asked) = *self.0.lock().unwrap_or_else(PoisonError::into_inner);
        match (open, has_asked) {
            (0, false) => since + HEAD,
            (0, true) => since + IDLE,
            _ => Instant::now() + IDLE,
        }
    }

    /// Waits until the connection has stood idle for too long.
    async fn idle(&self) {
        loop {
            let ends = self.ends();
            if ends <= Instant::now() {
                return;
            }
            tokio::time::sleep_until(ends).await;
        }
    }
}

impl Drop for Busy {
    fn drop(&mut self) {
        let mut state = self.0.0.lock().unwrap_or_else(PoisonError::into_inner);
        state.0 -= 1;
        state.1 = Instant::now();
    }
}

fn builder() -> Builder<TokioExecutor> {
    let mut builder = Builder::new(TokioExecutor::new());
    builder
        .http1()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD);
    builder
        .http2()
        .timer(TokioTimer::new())
        .keep_alive_interval(PING.0)
        .keep_alive_timeout(PING.1);
    builder
}

/// Serves what `listener` brings until `closing` turns `true`, then waits for what is under way.
pub async fn serve<L>(
    mut listener: L,
    router: Router,
    places: Arc<Places>,
    mut closing: watch::Receiver<bool>,
) where
    L: Listener<Addr = SocketAddr>,
    L::Io: Spoken,
{
    let builder = Arc::new(builder());
    // Each connection holds the one end; the other hears when the last has gone.
    let (alive, mut gone) = mpsc::channel::<()>(1);
    loop {
        let (stream, from) = tokio::select! {
            biased;
            // A sender that is gone has closed too.
            _ = closing.wait_for(|closing| *closing) => break,
            next = listener.accept() => next,
        };
        let Some(place) = places.place(from.ip()) else {
            tracing::debug!(%from, "too many connections, in all or from this address");
            continue;
        };
        let connection = Connection {
            from,
            router: router.clone(),
            builder: Arc::clone(&builder),
            closing: closing.clone(),
            _place: place,
            _alive: alive.clone(),
        };
        tokio::spawn(connection.serve(stream));
    }
    drop((listener, alive));
    // Nothing is ever sent: this is the end of the last connection.
    let _ = gone.recv().await;
}

/// One connection, with what it holds for as long as it stands.
struct Connection {
    from: SocketAddr,
    router: Router,
    builder: Arc<Builder<TokioExecutor>>,
    closing: watch::Receiver<bool>,
    _place: Place,
    _alive: mpsc::Sender<()>,
}

impl Connection {
    async fn serve<S>(mut self, stream: S)
    where
        S: Spoken + tokio::io::AsyncRead + tokio::io::AsyncWrite + Unpin + Send + 'static,
    {
        let from = self.from;
        let mut closing = self.closing.clone();
        tokio::select! {
            _ = closing.wait_for(|closing| *closing) => return,
            first = tokio::time::timeout(FIRST_BYTE, stream.first_byte()) => {
                if !matches!(first, Ok(Ok(()))) {
                    tracing::debug!(%from, "a connection that said nothing");
                    return;
                }
            }
        }
        let work = Work::new();
        let counted = Arc::clone(&work);
        let router = self.router.clone();
        let pages = tower::service_fn(move |request: Request<Incoming>| {
            let (busy, router) = (counted.begin(), router.clone());
            async move {
                let mut request = request.map(Body::new);
                request.extensions_mut().insert(ConnectInfo(from));
                let response: Response<Body> = router.oneshot(request).await?;
                // An answer that flows on, as a stream of events does, is work until its end.
                Ok::<_, std::convert::Infallible>(response.map(|body| {
                    body.map_frame(move |frame| {
                        let _ = &busy;
                        frame
                    })
                }))
            }
        });
        let connection = self
            .builder
            .serve_connection(TokioIo::new(stream), TowerToHyperService::new(pages));
        let mut connection = pin!(connection);
        let ended = tokio::select! {
            ended = connection.as_mut() => Some(ended),
            () = work.idle() => None,
            _ = self.closing.wait_for(|closing| *closing) => None,
        };
        let ended = if let Some(ended) = ended {
            ended
        } else {
            connection.as_mut().graceful_shutdown();
            // One that stood idle has nothing to finish; for the rest the server's own patience holds.
            let is_closing = *self.closing.borrow();
            let farewell = if is_closing { Duration::MAX } else { FAREWELL };
            let ended = tokio::time::timeout(farewell, connection).await;
            ended.unwrap_or(Ok(()))
        };
        if let Err(error) = ended {
            tracing::debug!(%from, %error, "a connection ended early");
        }
    }
}
