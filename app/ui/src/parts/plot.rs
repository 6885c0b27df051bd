//! What the three drawings of a plan share: round steps for an axis, and lines from points.

/// Returns a round step (1, 2 or 5 times a power of ten) that cuts `span` into about `wanted` parts.
pub fn round_step(span: f64, wanted: f64) -> f64 {
    if !(span.is_finite() && span > 0.0 && wanted >= 1.0) {
        return 1.0;
    }
    let rough = span / wanted;
    let power = 10f64.powf(rough.log10().floor());
    let leading = rough / power;
    let round = if leading <= 1.0 {
        1.0
    } else if leading <= 2.0 {
        2.0
    } else if leading <= 5.0 {
        5.0
    } else {
        10.0
    };
    round * power
}

/// Returns the multiples of `step` from `low` to `high`, both kept; at most 200 of them.
pub fn ticks(low: f64, high: f64, step: f64) -> Vec<f64> {
    if !(low.is_finite() && high.is_finite() && step > 0.0) || high < low {
        return Vec::new();
    }
    let first = (low / step - 1e-9).ceil();
    (0..200u32)
        .map(|n| (first + f64::from(n)) * step)
        .take_while(|tick| *tick <= high + step * 1e-9)
        .collect()
}

/// Returns an SVG path through `points`.
pub fn path(points: impl IntoIterator<Item = (f64, f64)>) -> String {
    let stops: Vec<_> = points
        .into_iter()
        .map(|(x, y)| format!("{x:.1} {y:.1}"))
        .collect();
    if stops.is_empty() {
        String::new()
    } else {
        format!("M{}", stops.join("L"))
    }
}

/// Returns whether every number of every point can be drawn.
pub fn all_finite(points: &[(f64, f64)]) -> bool {
    points.iter().all(|(x, y)| x.is_finite() && y.is_finite())
}

/// Returns the texts of an axis: each tick's number, the last with the unit beside it.
pub fn axis(ticks: &[f64], step: f64, unit: &str) -> Vec<(f64, String)> {
    let last = ticks.len().saturating_sub(1);
    ticks
        .iter()
        .enumerate()
        .map(|(at, tick)| {
            let number = tick_text(*tick, step);
            (
                *tick,
                if at == last {
                    format!("{number} {unit}")
                } else {
                    number
                },
            )
        })
        .collect()
}

/// Returns a tick's number without needless decimals.
pub fn tick_text(value: f64, step: f64) -> String {
    let text = if step < 1.0 {
        format!("{value:.1}")
    } else {
        format!("{value:.0}")
    };
    text.replace('-', "\u{2212}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_ticks_keep_both_ends() {
        for (span, wanted, step) in [
            (100.0, 5.0, 20.0),
            (37.0, 4.0, 10.0),
            (0.9, 3.0, 0.5),
            (250.0, 5.0, 50.0),
        ] {
            assert!(
                (round_step(span, wanted) - step).abs() < 1e-9,
                "{span} in {wanted}"
            );
        }
        assert_eq!(ticks(0.0, 40.0, 10.0), [0.0, 10.0, 20.0, 30.0, 40.0]);
        assert_eq!(ticks(-5.0, 12.0, 5.0), [-5.0, 0.0, 5.0, 10.0]);
    }

    #[test]
    fn a_span_that_cannot_be_drawn_gives_no_ticks_and_no_endless_loop() {
        assert!((round_step(f64::NAN, 5.0) - 1.0).abs() < f64::EPSILON);
        assert!(ticks(0.0, f64::INFINITY, 1.0).is_empty());
        assert!(ticks(0.0, 1.0, 0.0).is_empty());
        assert_eq!(ticks(0.0, 1e9, 1.0).len(), 200);
    }
}
