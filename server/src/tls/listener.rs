//! Takes connections and makes them secure before the pages see them.

use crate::serve::connections::{FIRST_BYTE, Spoken as _};
use crate::serve::places::{Bounds, Places};
use axum::serve::Listener;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::mpsc;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::server::TlsStream;

/// How long a client may take to agree on keys: several round trips over a bad link.
const PATIENCE: Duration = Duration::from_secs(20);
/// How many clients may be agreeing on keys at once. A ship's phones that all come back at once, behind one
/// router, each need one for a moment.
const AT_ONCE: Bounds = Bounds {
    in_all: 512,
    from_one: 64,
};

type Secured = (TlsStream<TcpStream>, SocketAddr);

/// Listens for secure connections. One that dawdles keeps no other waiting.
#[derive(Debug)]
pub struct TlsListener {
    address: SocketAddr,
    ready: mpsc::Receiver<Secured>,
    task: tokio::task::JoinHandle<()>,
}

impl TlsListener {
    /// Takes over a listener.
    ///
    /// # Errors
    /// What the system says if the listener has no address.
    pub fn new(listener: TcpListener, config: Arc<rustls::ServerConfig>) -> io::Result<Self> {
        let address = listener.local_addr()?;
        let (sender, ready) = mpsc::channel(AT_ONCE.in_all);
        let acceptor = TlsAcceptor::from(config);
        let task = tokio::spawn(take_connections(listener, acceptor, sender));
        Ok(Self {
            address,
            ready,
            task,
        })
    }
}

impl Drop for TlsListener {
    fn drop(&mut self) {
        self.task.abort();
    }
}

async fn take_connections(
    mut listener: TcpListener,
    acceptor: TlsAcceptor,
    ready: mpsc::Sender<Secured>,
) {
    let places = Places::new(AT_ONCE);
    loop {
        // The trait's own method waits and tries again when the system is out of sockets.
        let (stream, peer) = Listener::accept(&mut listener).await;
        let Some(place) = places.place(peer.ip()) else {
            tracing::debug!(%peer, "too many agree on keys, in all or from this address");
            continue;
        };
        // Small answers should not wait for more to send; where this cannot be said they do.
        let _ = stream.set_nodelay(true);
        let (acceptor, ready) = (acceptor.clone(), ready.clone());
        tokio::spawn(async move {
            let agreed = async {
                tokio::time::timeout(FIRST_BYTE, stream.first_byte()).await??;
                acceptor.accept(stream).await
            };
            match tokio::time::timeout(PATIENCE, agreed).await {
                // Nobody who takes it: the server closes.
                Ok(Ok(stream)) => drop(ready.send((stream, peer)).await),
                Ok(Err(error)) => tracing::debug!(%peer, %error, "no secure connection"),
                Err(_) => tracing::debug!(%peer, "no secure connection in time"),
            }
            drop(place);
        });
    }
}

impl Listener for TlsListener {
    type Io = TlsStream<TcpStream>;
    type Addr = SocketAddr;

    async fn accept(&mut self) -> Secured {
        match self.ready.recv().await {
            Some(secured) => secured,
            // The task that listens never ends by itself.
            None => std::future::pending().await,
        }
    }

    fn local_addr(&self) -> io::Result<SocketAddr> {
        Ok(self.address)
    }
}
