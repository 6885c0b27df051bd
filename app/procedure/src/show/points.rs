//! What was read, counted or logged at each point of a step.

use crate::definition::Kind;
use crate::event::Outcome;
use crate::lens::{Lens, Standing};
use crate::view::PointView;

/// The one point of a count, so that a screen checks it as it checks a reading.
fn count_view(lens: &Lens<'_>, s: usize, standing: &Standing) -> Vec<PointView> {
    let Kind::Count { of, limits, .. } = &lens.step(s).kind else {
        return Vec::new();
    };
    let counted = standing.event.and_then(|i| match lens.outcome(i)? {
        Outcome::Counted { count } => Some((i, *count)),
        _ => None,
    });
    vec![PointView {
        key: "count".to_owned(),
        label: of.clone(),
        unit: of.clone(),
        limits: limits.resolve(&lens.run.settings, of),
        value: counted.and_then(|(_, count)| crate::Decimal::new(i64::from(count), 0)),
        by: counted.map(|(i, _)| lens.person(i).clone()),
        at_ms: counted.map(|(i, _)| lens.at_ms(i)),
        verdict: counted.and_then(|(i, _)| Some(lens.verdict(s, lens.outcome(i)?))),
        event: counted.map(|(i, _)| lens.run.event(i).id),
    }]
}

pub(super) fn point_views(lens: &Lens<'_>, s: usize, standing: &Standing) -> Vec<PointView> {
    let kind = &lens.step(s).kind;
    let points = kind.points();
    if points.is_empty() {
        return count_view(lens, s, standing);
    }
    let logged = !matches!(kind, Kind::Reading { .. });
    let view = |(p, point): (usize, &crate::Point)| {
        if logged {
            return logged_point(lens, s, point);
        }
        let event = standing.points.get(p).copied().flatten();
        let value = event.and_then(|i| match lens.outcome(i) {
            Some(Outcome::Reading { value, .. }) => Some(*value),
            _ => None,
        });
        let limits = point.limits.resolve(&lens.run.settings, &point.unit);
        PointView {
            key: point.key.clone(),
            label: point.label.clone(),
            unit: point.unit.clone(),
            verdict: value.map(|value| limits.verdict(value, &point.unit)),
            limits,
            value,
            by: event.map(|i| lens.person(i).clone()),
            at_ms: event.map(|i| lens.at_ms(i)),
            event: event.map(|i| lens.run.event(i).id),
        }
    };
    points.iter().enumerate().map(view).collect()
}

/// A point of a log, with the newest reading of it; of several made apart, one that is out of limits.
fn logged_point(lens: &Lens<'_>, s: usize, point: &crate::Point) -> PointView {
    let limits = point.limits.resolve(&lens.run.settings, &point.unit);
    let read = lens.log_readings(s, &point.key);
    let newest = lens.newest(&read.iter().map(|(i, _)| *i).collect::<Vec<_>>());
    let found = read
        .into_iter()
        .filter(|(i, _)| newest.contains(i))
        .min_by_key(|(i, value)| (limits.verdict(*value, &point.unit).within, *i));
    PointView {
        key: point.key.clone(),
        label: point.label.clone(),
        unit: point.unit.clone(),
        value: found.map(|(_, value)| value),
        by: found.map(|(i, _)| lens.person(i).clone()),
        at_ms: found.map(|(i, _)| lens.at_ms(i)),
        verdict: found.map(|(_, value)| limits.verdict(value, &point.unit)),
        event: found.map(|(i, _)| lens.run.event(i).id),
        limits,
    }
}
