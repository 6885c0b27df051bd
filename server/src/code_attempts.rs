//! Wrong guesses at codes: so many from one address, so many from all, in a minute.
//!
//! One address that guesses shuts itself out and nobody else. The bound on all together is for those who
//! have many addresses. A code has eight digits, so that a guess finds one of `n` that wait with a chance of
//! `n` in 10^8. In the quarter of an hour that a code lives, [`FROM_ALL`] a minute are 900 guesses: one code
//! is found with a chance of 1 in 111,000, one of the 33 that may wait at most (32 handed out, and the
//! console's first) with 1 in 3,400. A higher bound would help who guesses, a lower one who wants to keep
//! everybody out.

use crate::rate_limit::client_prefix;
use std::net::IpAddr;

/// Wrong codes allowed from one address in one [`WINDOW_MS`].
const FROM_ONE: usize = 5;
/// Wrong codes allowed from all addresses together in one [`WINDOW_MS`].
const FROM_ALL: usize = 60;
/// How long a wrong code counts against the next try, ms.
const WINDOW_MS: i64 = 60_000;

/// The wrong guesses of the last minute: when, and from where. There are at most [`FROM_ALL`].
#[derive(Debug, Default)]
pub struct CodeAttempts(Vec<(i64, Option<IpAddr>)>);

impl CodeAttempts {
    /// Says whether a guess from an address is looked at. Those whose address is not known share one.
    pub fn may_try(&mut self, from: Option<IpAddr>, now_ms: i64) -> bool {
        self.0
            .retain(|(at, _)| now_ms.saturating_sub(*at) < WINDOW_MS);
        let from = from.map(client_prefix);
        let of_this = self.0.iter().filter(|(_, other)| *other == from).count();
        of_this < FROM_ONE && self.0.len() < FROM_ALL
    }

    /// Counts a wrong one.
    pub fn count_wrong(&mut self, from: Option<IpAddr>, now_ms: i64) {
        self.0.push((now_ms, from.map(client_prefix)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CodeAttempts wrongly so often from an address; says how many were looked at.
    fn guessed(attempts: &mut CodeAttempts, from: &str, count: usize, now_ms: i64) -> usize {
        let from = Some(from.parse().unwrap());
        (0..count)
            .filter(|_| {
                let may = attempts.may_try(from, now_ms);
                if may {
                    attempts.count_wrong(from, now_ms);
                }
                may
            })
            .count()
    }

    #[test]
    fn who_guesses_shuts_out_themselves_and_no_other() {
        let mut attempts = CodeAttempts::default();
        assert_eq!(guessed(&mut attempts, "10.0.0.1", 1_000, 0), 5);
        assert_eq!(guessed(&mut attempts, "::ffff:10.0.0.1", 1, 59_999), 0);
        assert_eq!(guessed(&mut attempts, "10.0.0.2", 1, 59_999), 1);
        assert_eq!(guessed(&mut attempts, "10.0.0.1", 1_000, 60_000), 5);
        assert_eq!(guessed(&mut attempts, "fd00::1", 3, 60_000), 3);
        assert_eq!(
            guessed(&mut attempts, "fd00::2", 3, 60_000),
            2,
            "one network"
        );
    }

    #[test]
    fn a_quarter_of_an_hour_of_guesses_from_everywhere_is_nine_hundred() {
        let mut attempts = CodeAttempts::default();
        let mut looked_at = 0;
        for second in 0..900_i64 {
            for host in 0..40 {
                let from = format!("10.0.{}.{host}", second % 50);
                looked_at += guessed(&mut attempts, &from, 2, second * 1_000);
            }
        }
        assert_eq!(looked_at, 900);
        assert!(
            !attempts.may_try(None, 899_000),
            "and everybody waits a minute"
        );
        assert!(attempts.may_try(None, 960_000));
    }
}
