//! A link that fails: stands between two programs and does to each connection what it is told.

use std::collections::VecDeque;
use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// What befalls a connection.
#[derive(Debug, Clone, Copy)]
pub enum Fate {
    /// It is refused.
    Refused,
    /// It is cut after so many bytes towards the server.
    CutGoing(usize),
    /// It is cut after so many bytes of the answer.
    CutComing(usize),
    /// The answer is something else.
    Garbage,
    /// Every piece of up to 4 kB is late, both ways.
    Late(Duration),
}

/// The link. Connections that have no fate left pass unharmed.
#[derive(Debug)]
pub struct Link {
    pub url: String,
    left: Arc<Mutex<VecDeque<Fate>>>,
}

impl Link {
    /// Makes a link to a server.
    pub fn to(server: &str, fates: &[Fate]) -> Self {
        let server = server
            .strip_prefix("http://")
            .expect("an address")
            .to_owned();
        let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
        let url = format!("http://{}", listener.local_addr().expect("an address"));
        let left = Arc::new(Mutex::new(VecDeque::from(fates.to_vec())));
        let fates = Arc::clone(&left);
        std::thread::spawn(move || {
            for client in listener.incoming().map_while(Result::ok) {
                let fate = fates.lock().expect("no thread fell over").pop_front();
                let server = server.clone();
                std::thread::spawn(move || carry(&client, &server, fate));
            }
        });
        Self { url, left }
    }

    /// Returns how many connections are still to fail.
    pub fn left(&self) -> usize {
        self.left.lock().expect("no thread fell over").len()
    }
}

fn carry(client: &TcpStream, server: &str, fate: Option<Fate>) {
    match fate {
        Some(Fate::Refused) => drop(client.shutdown(Shutdown::Both)),
        Some(Fate::Garbage) => {
            let mut client = client;
            let mut some = [0; 1024];
            // Whatever becomes of a broken connection is its peer's to bear.
            let _ = client.read(&mut some);
            let _ =
                client.write_all(b"HTTP/1.1 200 OK\r\ncontent-length: 9\r\n\r\n\xff\x00nonsense");
            let _ = client.shutdown(Shutdown::Both);
        }
        _ => {
            let Ok(server) = TcpStream::connect(server) else {
                return;
            };
            let (going, coming, late) = match fate {
                Some(Fate::CutGoing(bytes)) => (bytes, usize::MAX, Duration::ZERO),
                Some(Fate::CutComing(bytes)) => (usize::MAX, bytes, Duration::ZERO),
                Some(Fate::Late(late)) => (usize::MAX, usize::MAX, late),
                _ => (usize::MAX, usize::MAX, Duration::ZERO),
            };
            std::thread::scope(|scope| {
                scope.spawn(|| pump(client, &server, going, late));
                pump(&server, client, coming, late);
            });
        }
    }
}

fn pump(mut from: &TcpStream, mut to: &TcpStream, mut most: usize, late: Duration) {
    let mut piece = [0; 4096];
    while let Ok(read) = from.read(&mut piece) {
        let pass = read.min(most);
        std::thread::sleep(late);
        if read == 0 || to.write_all(&piece[..pass]).is_err() {
            break;
        }
        most -= pass;
        if most == 0 {
            break;
        }
    }
    // Either end may be gone already.
    let _ = from.shutdown(Shutdown::Both);
    let _ = to.shutdown(Shutdown::Both);
}
