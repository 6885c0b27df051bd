//! Listening to one source, for as long as the server runs.

use super::address::Road;
use super::lines::Lines;
use super::{Heard, Instruments};
use crate::clock::now_ms;
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncBufReadExt as _, AsyncRead, AsyncReadExt as _, BufReader};
use tokio::net::{TcpStream, UdpSocket};
use tokio::sync::mpsc;

/// Between tries to open a source that is lost: the first, and the longest; each is twice the one before.
const AGAIN: [Duration; 2] = [Duration::from_millis(500), Duration::from_secs(30)];
/// How long opening a connection may take.
const PATIENCE: Duration = Duration::from_secs(5);
/// What says nothing for so long is opened anew: a connection that was cut without a word looks the same.
const SILENCE: Duration = Duration::from_mins(1);

/// What listens to one source.
#[derive(Debug)]
pub struct Ear {
    instruments: Arc<Instruments>,
    source: usize,
    queue: mpsc::Sender<Heard>,
}

impl Ear {
    /// Makes one for a source.
    pub fn new(instruments: Arc<Instruments>, source: usize, queue: mpsc::Sender<Heard>) -> Self {
        Self {
            instruments,
            source,
            queue,
        }
    }

    /// Listens, and opens the source again whenever it is lost. Ends only after a replay's last line.
    pub async fn listen(self) {
        let mut wait = AGAIN[0];
        loop {
            let before = self.heard();
            let outcome = self.once().await;
            if let Ok(()) = outcome
                && matches!(self.road(), Road::Replay { .. })
            {
                self.note(Err("the night is over".to_owned()));
                return;
            }
            let why = match outcome {
                Ok(()) => "the other side has closed it".to_owned(),
                Err(error) => error.to_string(),
            };
            tracing::warn!(
                source = self.instruments.name(self.source),
                why,
                "instruments lost"
            );
            self.note(Err(why));
            // One that was heard is likely to be there again at once.
            if self.heard() > before {
                wait = AGAIN[0];
            }
            tokio::time::sleep(wait).await;
            wait = (wait * 2).min(AGAIN[1]);
        }
    }

    fn road(&self) -> &Road {
        &self.instruments.sources[self.source].road
    }

    fn heard(&self) -> u64 {
        self.instruments.table()[self.source].heard
    }

    fn note(&self, outcome: Result<(), String>) {
        let now = self.instruments.watch_ms(now_ms());
        self.instruments.note_open(self.source, outcome, now);
    }

    fn give(&self, line: &[u8]) {
        let heard = Heard {
            source: self.source,
            at_ms: self.instruments.watch_ms(now_ms()),
            line: line.into(),
        };
        if self.queue.try_send(heard).is_err() {
            self.instruments.note_passed_over(self.source);
        }
    }

    async fn once(&self) -> std::io::Result<()> {
        match self.road() {
            Road::Udp(address) => self.datagrams(*address).await,
            Road::Tcp(host) => {
                let stream = tokio::time::timeout(PATIENCE, TcpStream::connect(host)).await??;
                self.note(Ok(()));
                self.stream(stream).await
            }
            Road::Serial { path, baud } => self.serial(path, *baud).await,
            Road::Replay { path, .. } => self.replay(path).await,
        }
    }

    async fn datagrams(&self, address: std::net::SocketAddr) -> std::io::Result<()> {
        let socket = UdpSocket::bind(address).await?;
        tracing::info!(
            source = self.instruments.name(self.source),
            address = %socket.local_addr()?,
            "listening to instruments"
        );
        self.note(Ok(()));
        let mut datagram = vec![0; 65_536];
        loop {
            let (length, _) = socket.recv_from(&mut datagram).await?;
            let mut lines = Lines::default();
            lines.take(&datagram[..length], |line| self.give(line));
            lines.end(|line| self.give(line));
        }
    }

    async fn stream(&self, mut stream: impl AsyncRead + Unpin) -> std::io::Result<()> {
        let mut lines = Lines::default();
        let mut bytes = vec![0; 4096];
        loop {
            let read = tokio::time::timeout(SILENCE, stream.read(&mut bytes)).await;
            match read {
                Err(_) => return Err(std::io::Error::other("nothing was said for a minute")),
                Ok(Ok(0)) => return Ok(()),
                Ok(read) => lines.take(&bytes[..read?], |line| self.give(line)),
            }
        }
    }

    #[cfg(unix)]
    async fn serial(&self, path: &Path, baud: u32) -> std::io::Result<()> {
        use std::os::unix::fs::OpenOptionsExt as _;
        let flags = rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::NOCTTY;
        let flags = i32::try_from(flags.bits()).map_err(std::io::Error::other)?;
        let file = std::fs::OpenOptions::new()
            .read(true)
            .custom_flags(flags)
            .open(path)?;
        // What is no terminal, such as a pipe of a program that talks to the line, has no speed.
        if let Ok(mut line) = rustix::termios::tcgetattr(&file) {
            line.make_raw();
            line.set_speed(baud)?;
            let now = rustix::termios::OptionalActions::Now;
            rustix::termios::tcsetattr(&file, now, &line)?;
        }
        // It is no pipe, but is read as one: whatever can be waited for.
        let file = tokio::net::unix::pipe::Receiver::from_file_unchecked(file)?;
        self.note(Ok(()));
        self.stream(file).await
    }

    #[cfg(not(unix))]
    async fn serial(&self, _: &Path, _: u32) -> std::io::Result<()> {
        Err(std::io::Error::other(
            "serial lines are read on Linux and macOS only: give a gateway's tcp:// or udp:// address",
        ))
    }

    /// Gives a night's sentences on, each when its time has come.
    async fn replay(&self, path: &Path) -> std::io::Result<()> {
        let rate = self.instruments.rate().unwrap_or(1.0);
        let file = tokio::fs::File::open(path).await?;
        self.note(Ok(()));
        let began = tokio::time::Instant::now();
        let mut first_ms = None;
        let mut file = BufReader::new(file);
        let mut text = Vec::new();
        loop {
            text.clear();
            // A line without end is no night.
            let mut whole = (&mut file).take(4096);
            if whole.read_until(b'\n', &mut text).await? == 0 {
                return Ok(());
            }
            let line = text.trim_ascii();
            let Some((ms, sentence)) = seamanship::watch::Replay::timed(line) else {
                if !line.is_empty() {
                    self.give(line);
                }
                continue;
            };
            let since_ms = (ms - *first_ms.get_or_insert(ms)).max(0);
            let since = Duration::from_secs_f64(since_ms as f64 / 1000.0 / rate);
            tokio::time::sleep_until(began + since).await;
            // A replay waits for whoever takes from the queue: nothing of it is passed over.
            let heard = Heard {
                source: self.source,
                at_ms: self.instruments.watch_ms(now_ms()),
                line: sentence.into(),
            };
            if self.queue.send(heard).await.is_err() {
                return Ok(());
            }
        }
    }
}
