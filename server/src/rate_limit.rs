//! How much those may ask who have not shown who they are: so many requests from each address.
//!
//! Whoever is signed in is counted by their session instead. Nobody is told apart behind one address (a
//! ship's router may stand between), so that a whole crew that opens the program at once must fit.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};

/// Requests that may be saved up, and how many are gained each second.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    /// Requests at once, at most.
    pub burst: f64,
    /// Requests each second in the long run.
    pub each_second: f64,
}

/// Of one address: the first visit of a phone takes some thirty requests, so some forty phones at once.
const OF_ONE: Rate = Rate {
    burst: 1_200.0,
    each_second: 60.0,
};
/// Addresses that are told apart; any more share one bucket.
pub(crate) const MOST: usize = 4_096;

/// What somebody may still ask.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TokenBucket {
    saved: f64,
    at_ms: i64,
}

impl TokenBucket {
    /// A whole bucket.
    pub fn whole(rate: Rate, now_ms: i64) -> Self {
        Self {
            saved: rate.burst,
            at_ms: now_ms,
        }
    }

    fn fill(&mut self, rate: Rate, now_ms: i64) {
        // A clock that was set back gains nothing, and costs nothing.
        #[expect(
            clippy::cast_precision_loss,
            reason = "a difference of times only fills up what is full already"
        )]
        let passed_s = now_ms.saturating_sub(self.at_ms).max(0) as f64 / 1000.0;
        self.saved = (self.saved + passed_s * rate.each_second).min(rate.burst);
        self.at_ms = now_ms;
    }

    /// Takes one request off; `false` if none is left.
    pub fn take(&mut self, rate: Rate, now_ms: i64) -> bool {
        self.fill(rate, now_ms);
        let is_left = self.saved >= 1.0;
        if is_left {
            self.saved -= 1.0;
        }
        is_left
    }
}

/// Returns what is told apart of an address: a whole IPv4 address, the network (64 bits) of an IPv6 one,
/// within which a host chooses its own.
pub fn client_prefix(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(address) => {
            let network = address.to_bits() & !u128::from(u64::MAX);
            IpAddr::V6(network.into())
        }
        canonical @ IpAddr::V4(_) => canonical,
    }
}

/// The allowances of those who have not shown who they are.
#[derive(Debug)]
pub struct RateLimiter {
    table: Mutex<Table>,
}

#[derive(Debug)]
struct Table {
    of: HashMap<IpAddr, TokenBucket>,
    rest: TokenBucket,
}

impl RateLimiter {
    /// Makes an empty table.
    pub fn new(now_ms: i64) -> Self {
        Self {
            table: Mutex::new(Table {
                of: HashMap::new(),
                rest: TokenBucket::whole(OF_ONE, now_ms),
            }),
        }
    }

    /// Returns how many addresses are told apart now.
    #[cfg(test)]
    pub(crate) fn told_apart(&self) -> usize {
        let table = self.table.lock().unwrap_or_else(PoisonError::into_inner);
        table.of.len()
    }

    /// Takes one request of an address off; `false` if it has none left. One whose address is not known
    /// shares with those that are too many.
    pub fn take(&self, from: Option<IpAddr>, now_ms: i64) -> bool {
        let mut table = self.table.lock().unwrap_or_else(PoisonError::into_inner);
        let Table { of, rest } = &mut *table;
        let from = from.map(client_prefix);
        let is_known = from.is_some_and(|from| of.contains_key(&from));
        if !is_known && of.len() >= MOST {
            // Whoever has asked nothing for a while is as good as new.
            of.retain(|_, bucket| {
                bucket.fill(OF_ONE, now_ms);
                bucket.saved < OF_ONE.burst
            });
        }
        let bucket = match from {
            Some(from) if is_known || of.len() < MOST => of
                .entry(from)
                .or_insert_with(|| TokenBucket::whole(OF_ONE, now_ms)),
            _ => rest,
        };
        bucket.take(OF_ONE, now_ms)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(rate_limit: &RateLimiter, from: &str, count: usize, now_ms: i64) -> usize {
        let from: IpAddr = from.parse().unwrap();
        (0..count)
            .filter(|_| rate_limit.take(Some(from), now_ms))
            .count()
    }

    #[test]
    fn an_address_that_asks_without_end_waits_and_no_other_with_it() {
        let rate_limit = RateLimiter::new(0);
        assert_eq!(taken(&rate_limit, "10.0.0.1", 2_000, 0), 1_200);
        assert_eq!(taken(&rate_limit, "::ffff:10.0.0.1", 1, 0), 0, "the same");
        assert_eq!(taken(&rate_limit, "10.0.0.2", 1, 0), 1);
        assert_eq!(taken(&rate_limit, "10.0.0.1", 100, 1_000), 60);
        assert_eq!(taken(&rate_limit, "10.0.0.1", 2_000, 3_600_000), 1_200);
        assert_eq!(taken(&rate_limit, "10.0.0.1", 1, 0), 0, "a clock set back");
    }

    #[test]
    fn hosts_of_one_ipv6_network_are_one() {
        let rate_limit = RateLimiter::new(0);
        assert_eq!(taken(&rate_limit, "fd00::1", 1_200, 0), 1_200);
        assert_eq!(taken(&rate_limit, "fd00::2", 1, 0), 0);
        assert_eq!(taken(&rate_limit, "fd00:0:0:1::1", 1, 0), 1);
    }

    #[test]
    fn more_addresses_than_are_told_apart_share_and_the_table_stays_small() {
        let rate_limit = RateLimiter::new(0);
        let from = |number: u32| Some(IpAddr::V4(number.into()));
        for number in 0..10_000 {
            rate_limit.take(from(number), 0);
        }
        let known = || rate_limit.table.lock().unwrap().of.len();
        assert_eq!(known(), MOST);
        assert!(!rate_limit.take(from(20_000), 0), "the rest is used up");
        assert!(!rate_limit.take(None, 0));
        assert!(rate_limit.take(from(1), 0), "who was there before goes on");
        assert!(
            rate_limit.take(from(20_000), 60_000),
            "and after a while all"
        );
        assert_eq!(known(), 1);
    }
}
