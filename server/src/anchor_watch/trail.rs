//! Where the ship has been: each ten seconds for an hour, then each minute for twelve.

use seamanship::position::Position;
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;

/// Between the newest places.
const FINE_MS: i64 = 10_000;
/// Between older ones.
const COARSE_MS: i64 = 60_000;
/// After so long a place is an older one.
const FINE_FOR_MS: i64 = 3_600_000;
/// After so long it is forgotten.
const KEPT_MS: i64 = 12 * 3_600_000;

/// The places, oldest first.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Trail {
    old: VecDeque<(i64, Position)>,
    new: VecDeque<(i64, Position)>,
}

impl Trail {
    /// Takes a place up.
    pub fn note(&mut self, now_ms: i64, place: Position) {
        if self.new.back().is_some_and(|(at, _)| now_ms - at < FINE_MS) {
            return;
        }
        self.new.push_back((now_ms, place));
        while let Some((at, place)) = self.new.pop_front_if(|(at, _)| now_ms - *at > FINE_FOR_MS) {
            if self
                .old
                .back()
                .is_none_or(|(last, _)| at - last >= COARSE_MS)
            {
                self.old.push_back((at, place));
            }
        }
        while self
            .old
            .pop_front_if(|(at, _)| now_ms - *at > KEPT_MS)
            .is_some()
        {}
    }

    /// Lists the places of a time.
    pub fn between(&self, from_ms: i64, to_ms: i64) -> impl Iterator<Item = (i64, Position)> {
        let all = self.old.iter().chain(&self.new).copied();
        all.filter(move |(at, _)| (from_ms..=to_ms).contains(at))
    }

    /// Returns the place nearest to a moment, if one is near enough.
    pub fn at(&self, ms: i64, within_ms: i64) -> Option<Position> {
        let near = self.between(ms - within_ms, ms + within_ms);
        near.min_by_key(|(at, _)| (at - ms).abs())
            .map(|(_, place)| place)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_trail_stays_small_and_finds_a_moment() {
        let mut trail = Trail::default();
        let place = |second: i64| Position {
            latitude_deg: second as f64 / 1e6,
            longitude_deg: 0.0,
        };
        for second in 0..200_000 {
            trail.note(second * 1000, place(second));
        }
        assert!(trail.new.len() <= 362, "{}", trail.new.len());
        assert!(trail.old.len() <= 722, "{}", trail.old.len());
        assert_eq!(trail.at(199_990_400, 30_000), Some(place(199_990)));
        assert_eq!(trail.at(0, 30_000), None);
        let first = trail.between(0, i64::MAX).next().map(|(at, _)| at);
        assert!(first.is_some_and(|at| at >= 200_000_000 - KEPT_MS - COARSE_MS));
    }
}
