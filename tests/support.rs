//! Ships to start, hands to sign, and links that fail.

#![expect(
    clippy::disallowed_methods,
    reason = "waits for a server with an end to the waiting"
)]

pub mod hand;
pub mod http;
pub mod link;
pub mod ship;

/// Waits until `done` gives an answer; fails when it does not within a minute.
pub fn until<T>(what: &str, mut done: impl FnMut() -> Option<T>) -> T {
    let start = std::time::Instant::now();
    loop {
        if let Some(answer) = done() {
            return answer;
        }
        assert!(start.elapsed().as_secs() < 60, "waited a minute for {what}");
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
}
