//! How she drifts, and how long until the nearest danger at that: beside the time to weigh.

use super::trail::Trail;
use seamanship::position::{Position, way};
use seamanship::watch::Place;

/// Over how long a drift is measured, ms.
/// Source: our own, common practice, no source: half a yaw is shorter.
const OVER_MS: i64 = 180_000;
/// How near in time a place must be, ms.
const NEAR_MS: i64 = 20_000;
/// A slower drift is a swing, and nothing is reckoned by it, kn.
/// Source: our own, common practice, no source.
const LEAST_KN: f64 = 0.2;
/// Metres a second in a knot.
/// Source: the international nautical mile, by definition.
const KNOT: f64 = 1852.0 / 3600.0;

/// What the drift comes to.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Drift {
    /// Over the last three minutes, kn.
    pub kn: Option<f64>,
    /// The nearest danger: its name, how far, m, and in how many minutes she is as near as that drift brings her; none where
    /// she does not drift towards it.
    pub danger: Option<(String, f64, Option<f64>)>,
}

impl Drift {
    /// Reckons it for a moment.
    pub fn of(trail: &Trail, dangers: &[(String, Place)], now_ms: i64) -> Self {
        let Some(here) = trail.at(now_ms, NEAR_MS) else {
            return Self::default();
        };
        let moved = trail
            .at(now_ms - OVER_MS, NEAR_MS)
            .and_then(|before| way(before, here).ok());
        let kn = moved
            .as_ref()
            .map(|moved| moved.distance.0 / (OVER_MS as f64 / 1000.0) / KNOT);
        let course = moved.and_then(|moved| Some(moved.bearings?.end.0));
        let to = |place: &Place| {
            let there = Position {
                latitude_deg: place.lat,
                longitude_deg: place.lon,
            };
            way(here, there).ok()
        };
        let near = dangers.iter().filter_map(|(name, place)| {
            let to = to(place)?;
            Some((name, to.distance.0, to.bearings?.start.0))
        });
        let nearest = near.min_by(|one, other| one.1.total_cmp(&other.1));
        let danger = nearest.map(|(name, metres, bearing)| {
            let minutes = kn.zip(course).and_then(|(kn, course)| {
                let toward = kn * (bearing - course).to_radians().cos();
                (kn >= LEAST_KN && toward >= LEAST_KN / 2.0)
                    .then(|| metres / (toward * KNOT) / 60.0)
            });
            (name.clone(), metres, minutes)
        });
        Self { kn, danger }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Half a knot to the north for three minutes, the rock 500 m ahead: by hand, 500 / 0.2572 m/s are 32.4 minutes.
    #[test]
    fn a_drift_towards_a_rock_has_its_minutes_and_one_away_from_it_has_none() {
        let north = |metres: f64| -43.5 + metres / 111_106.0;
        let mut trail = Trail::default();
        for second in (0..=180).step_by(10) {
            let place = Position {
                latitude_deg: north(f64::from(second) * 0.257_2),
                longitude_deg: -20.0,
            };
            trail.note(i64::from(second) * 1000, place);
        }
        let rock = |metres: f64| {
            let place = Place {
                lat: north(metres),
                lon: -20.0,
            };
            vec![("the rock".to_owned(), place)]
        };
        let ahead = Drift::of(&trail, &rock(546.3), 180_000);
        assert!(
            ahead.kn.is_some_and(|kn| (kn - 0.5).abs() < 0.01),
            "{ahead:?}"
        );
        let (_, metres, minutes) = ahead.danger.expect("a danger");
        assert!((metres - 500.0).abs() < 1.0, "{metres}");
        assert!(
            minutes.is_some_and(|minutes| (minutes - 32.4).abs() < 0.3),
            "{minutes:?}"
        );
        let astern = Drift::of(&trail, &rock(-400.0), 180_000);
        assert_eq!(astern.danger.and_then(|(.., minutes)| minutes), None);
        assert_eq!(Drift::of(&trail, &rock(0.0), 900_000), Drift::default());
    }
}
