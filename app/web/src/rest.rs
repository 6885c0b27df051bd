//! When a key answers: once it has lain still in sight for long enough to be read.
//!
//! A key that has just appeared, or has moved under a thumb, is not what the thumb was on its way to. It sleeps for
//! [`REST_MS`]; a press counts where it began and ended on one key that was awake.

/// How long a key must have lain still before it answers, ms. Two quick taps on a key come within 0.6 s (seen in a
/// trial); a person who reads the new words takes longer than this.
pub const REST_MS: f64 = 700.0;
/// Farther than this it has moved, CSS px.
const MOVED_PX: f64 = 6.0;

/// A key in sight: which, and where its upper left corner is, CSS px.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen<K> {
    /// The key itself.
    pub key: K,
    /// From the left.
    pub left: f64,
    /// From the top.
    pub top: f64,
}

/// Whether a place that has changed makes a key sleep.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moves {
    /// It does: something else came between.
    Count,
    /// It does not: whoever looks at it moved it, by scrolling, turning the phone or typing.
    Own,
}

/// The keys in sight, each with the time since which it has lain still.
#[derive(Debug)]
pub struct Rest<K> {
    keys: Vec<(Seen<K>, f64)>,
}

impl<K> Default for Rest<K> {
    fn default() -> Self {
        Self { keys: Vec::new() }
    }
}

impl<K: PartialEq> Rest<K> {
    /// Takes note of the keys that are in sight at `now_ms`; those that are gone are forgotten.
    pub fn look(&mut self, seen: Vec<Seen<K>>, now_ms: f64, moves: Moves) {
        let known = std::mem::take(&mut self.keys);
        let since = |seen: &Seen<K>| {
            let (before, since) = known.iter().find(|(before, _)| before.key == seen.key)?;
            let moved = (before.left - seen.left).abs() > MOVED_PX
                || (before.top - seen.top).abs() > MOVED_PX;
            (!moved || moves == Moves::Own).then_some(*since)
        };
        self.keys = seen
            .into_iter()
            .map(|seen| {
                let since = since(&seen).unwrap_or(now_ms);
                (seen, since)
            })
            .collect();
    }

    /// Says whether a key answers at `now_ms`; one that was never seen does not.
    pub fn is_awake(&self, key: &K, now_ms: f64) -> bool {
        let found = self.keys.iter().find(|(seen, _)| seen.key == *key);
        found.is_some_and(|(_, since)| now_ms - since >= REST_MS)
    }

    /// Returns each key with whether it answers at `now_ms`.
    pub fn keys(&self, now_ms: f64) -> impl Iterator<Item = (&K, bool)> {
        let awake = move |since: f64| now_ms - since >= REST_MS;
        self.keys
            .iter()
            .map(move |(seen, since)| (&seen.key, awake(*since)))
    }

    /// Returns how long from `now_ms` on until the next sleeping key answers; none where all do.
    pub fn next_ms(&self, now_ms: f64) -> Option<f64> {
        let left = self.keys.iter().map(|(_, since)| since + REST_MS - now_ms);
        left.filter(|left| *left > 0.0).reduce(f64::min)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(key: char, top: f64) -> Seen<char> {
        Seen {
            key,
            left: 8.0,
            top,
        }
    }

    #[test]
    fn a_key_sleeps_when_it_appears_and_when_it_is_moved() {
        let mut rest = Rest::default();
        assert!(!rest.is_awake(&'a', 9_000.0), "it was never in sight");
        rest.look(vec![at('a', 700.0)], 1_000.0, Moves::Count);
        assert!(!rest.is_awake(&'a', 1_000.0 + REST_MS - 1.0));
        assert!(rest.is_awake(&'a', 1_000.0 + REST_MS));
        rest.look(vec![at('a', 703.0), at('b', 600.0)], 2_000.0, Moves::Count);
        assert!(rest.is_awake(&'a', 2_000.0), "a hair's breadth is no move");
        assert!(!rest.is_awake(&'b', 2_000.0));
        assert_eq!(rest.next_ms(2_100.0), Some(REST_MS - 100.0));
        rest.look(vec![at('a', 640.0), at('b', 600.0)], 3_000.0, Moves::Count);
        assert!(!rest.is_awake(&'a', 3_000.0) && rest.is_awake(&'b', 3_000.0));
        assert_eq!(rest.next_ms(3_000.0 + REST_MS), None);
    }

    #[test]
    fn what_the_reader_moves_stays_awake_and_what_comes_back_is_new() {
        let mut rest = Rest::default();
        rest.look(vec![at('a', 700.0)], 0.0, Moves::Count);
        rest.look(vec![at('a', 200.0)], 1_000.0, Moves::Own);
        assert!(rest.is_awake(&'a', 1_000.0));
        rest.look(Vec::new(), 2_000.0, Moves::Count);
        rest.look(vec![at('a', 200.0)], 2_001.0, Moves::Own);
        assert!(!rest.is_awake(&'a', 2_001.0));
    }
}
