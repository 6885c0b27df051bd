//! What was read, counted or logged at each point of a step.

use crate::definition::Kind;
use crate::event::Outcome;
use crate::run_at::{RunAt, StepState};
use crate::view::PointView;

/// The one point of a count, so that a screen checks it as it checks a reading.
fn count_view(at: &RunAt<'_>, s: usize, state: &StepState) -> Vec<PointView> {
    let Kind::Count { of, limits, .. } = &at.step(s).kind else {
        return Vec::new();
    };
    let counted = state.event.and_then(|i| match at.outcome(i)? {
        Outcome::Counted { count } => Some((i, *count)),
        _ => None,
    });
    vec![PointView {
        key: "count".to_owned(),
        label: of.clone(),
        unit: of.clone(),
        limits: limits.resolve(&at.run.settings, of),
        value: counted.and_then(|(_, count)| crate::Decimal::new(i64::from(count), 0)),
        by: counted.map(|(i, _)| at.person(i).clone()),
        at_ms: counted.map(|(i, _)| at.at_ms(i)),
        verdict: counted.and_then(|(i, _)| Some(at.verdict(s, at.outcome(i)?))),
        event: counted.map(|(i, _)| at.run.event(i).id),
    }]
}

pub(super) fn point_views(at: &RunAt<'_>, s: usize, state: &StepState) -> Vec<PointView> {
    let kind = &at.step(s).kind;
    let points = kind.points();
    if points.is_empty() {
        return count_view(at, s, state);
    }
    let logged = !matches!(kind, Kind::Reading { .. });
    let view = |(p, point): (usize, &crate::Point)| {
        if logged {
            return logged_point(at, s, point);
        }
        let event = state.points.get(p).copied().flatten();
        let value = event.and_then(|i| match at.outcome(i) {
            Some(Outcome::Reading { value, .. }) => Some(*value),
            _ => None,
        });
        let limits = point.limits.resolve(&at.run.settings, &point.unit);
        PointView {
            key: point.key.clone(),
            label: point.label.clone(),
            unit: point.unit.clone(),
            verdict: value.map(|value| limits.verdict(value, &point.unit)),
            limits,
            value,
            by: event.map(|i| at.person(i).clone()),
            at_ms: event.map(|i| at.at_ms(i)),
            event: event.map(|i| at.run.event(i).id),
        }
    };
    points.iter().enumerate().map(view).collect()
}

/// A point of a log, with the newest reading of it; of several made apart, one that is out of limits.
fn logged_point(at: &RunAt<'_>, s: usize, point: &crate::Point) -> PointView {
    let limits = point.limits.resolve(&at.run.settings, &point.unit);
    let read = at.log_readings(s, &point.key);
    let newest = at.newest(&read.iter().map(|(i, _)| *i).collect::<Vec<_>>());
    let found = read
        .into_iter()
        .filter(|(i, _)| newest.contains(i))
        .min_by_key(|(i, value)| (limits.verdict(*value, &point.unit).within, *i));
    PointView {
        key: point.key.clone(),
        label: point.label.clone(),
        unit: point.unit.clone(),
        value: found.map(|(_, value)| value),
        by: found.map(|(i, _)| at.person(i).clone()),
        at_ms: found.map(|(i, _)| at.at_ms(i)),
        verdict: found.map(|(_, value)| limits.verdict(value, &point.unit)),
        event: found.map(|(i, _)| at.run.event(i).id),
        limits,
    }
}
