//! What runs against the clock, and what must be looked at.

use crate::event::{Event, Outcome};
use crate::ids::{Role, StepId};
use crate::run_at::{CLOCK_TOLERANCE_MS, RunAt};
use crate::view::{
    Alarm, AlarmKind, AlarmLevel, Countdown, CountdownKind, SeenView, Status, StepView,
};
use crate::words;

/// Lists what runs against the clock, the soonest first.
pub(super) fn countdowns(steps: &[StepView], now: i64) -> Vec<Countdown> {
    let mut all = Vec::new();
    for step in steps.iter().filter(|step| step.applies) {
        let mut push = |what, ends: Option<i64>| {
            if let Some(ends_at_ms) = ends.filter(|ends| *ends > now) {
                all.push(Countdown {
                    step: step.id.clone(),
                    what,
                    words: step.instruction.clone(),
                    ends_at_ms,
                });
            }
        };
        let consent = step.kind.consent().is_some();
        if step.passed {
            push(
                if consent {
                    CountdownKind::Consent
                } else {
                    CountdownKind::Stale
                },
                step.good_until_ms,
            );
        } else {
            push(CountdownKind::Wait, step.ends_at_ms);
        }
        push(CountdownKind::Entry, step.entry_due_ms);
    }
    all.sort_by_key(|countdown| countdown.ends_at_ms);
    all
}

/// Lists what must be looked at, worst first.
pub(super) fn alarms(at: &RunAt<'_>, steps: &[StepView]) -> Vec<Alarm> {
    let mut all = Vec::new();
    let closed = at.closed();
    for (s, step) in steps.iter().enumerate() {
        step.kind.rules().lasting_alarms(at, s, step, &mut all);
    }
    if closed.is_none() {
        if let Some(stop) = at.stopped() {
            all.push(Alarm::of_run(
                AlarmLevel::Danger,
                AlarmKind::Stopped,
                words::STOPPED,
                at.at_ms(stop),
            ));
        }
        let steps = steps.iter().enumerate();
        for (s, step) in steps.filter(|(_, step)| step.applies) {
            of_step(at, s, step, &mut all);
        }
    }
    whole_run(at, closed, &mut all);
    for alarm in &mut all {
        alarm.seen = seen(at, alarm);
    }
    all.sort_by(|a, b| {
        (a.level, a.since_ms, a.kind, &a.step).cmp(&(b.level, b.since_ms, b.kind, &b.step))
    });
    all
}

fn of_step(at: &RunAt<'_>, s: usize, step: &StepView, all: &mut Vec<Alarm>) {
    let spent = at.expired_after_use(s);
    let since = step.at_ms.unwrap_or(at.now);
    if step.status == Status::OutOfLimits && step.gone_on.is_none() {
        // Which point is out, and since when: the readings after it change neither.
        let out = step.points.iter().filter_map(|point| {
            let verdict = point.verdict.as_ref().filter(|verdict| !verdict.within)?;
            let said = format!("{}: {}", point.label, verdict.words);
            Some((said, point.at_ms.unwrap_or(since)))
        });
        let (said, times): (Vec<_>, Vec<_>) = out.unzip();
        let words = if said.is_empty() {
            step.words.clone()
        } else {
            said.join("; ")
        };
        let since = times.into_iter().min().unwrap_or(since);
        let (level, kind) = (AlarmLevel::Warning, AlarmKind::OutOfLimits);
        all.push(Alarm::of_step(level, kind, step, &words, since));
    }
    let mut push =
        |level, kind, since| all.push(Alarm::of_step(level, kind, step, &step.words, since));
    match &step.status {
        Status::Stale if !spent => push(
            AlarmLevel::Warning,
            AlarmKind::Stale,
            step.good_until_ms.unwrap_or(since),
        ),
        Status::NotSo(_) if !step.passed => push(AlarmLevel::Warning, AlarmKind::NotSo, since),
        _ => {}
    }
    if step.awaiting_countersign.is_some() {
        push(AlarmLevel::Notice, AlarmKind::Countersign, since);
    }
    step.kind.rules().alarms(at, s, step, all);
    let is_out = |alarm: &Alarm| {
        alarm.kind == AlarmKind::OutOfLimits && alarm.step.as_ref() == Some(&step.id)
    };
    if !all.iter().any(is_out) {
        all.extend(unseen_reading(at, s, step));
    }
}

/// Returns the alarm of the newest result out of limits that a better one has taken the place of before any officer
/// looked: what was wrong for a moment must not go by unseen.
fn unseen_reading(at: &RunAt<'_>, s: usize, step: &StepView) -> Option<Alarm> {
    let out: Vec<(usize, String)> = at
        .of_step(s)
        .filter_map(|i| Some((i, said_out(at, s, i)?)))
        .collect();
    let (newest, said) = out.into_iter().rev().find(|(i, _)| !is_known(at, s, *i))?;
    let (level, kind) = (AlarmLevel::Warning, AlarmKind::OutOfLimits);
    let words = words::was_out(&said);
    Some(Alarm::of_step(level, kind, step, &words, at.at_ms(newest)))
}

/// Says what of a result is out of limits; none where nothing is.
fn said_out(at: &RunAt<'_>, s: usize, i: usize) -> Option<String> {
    let points = at.step(s).kind.points();
    let label = |key: &str| {
        let point = points.iter().find(|point| point.key == key);
        point.map(|point| format!("{}: ", point.label))
    };
    match &at.run.event(i).event {
        Event::Log { entry, .. } => {
            let wrong = super::wrong(at, s, entry);
            (!wrong.is_empty()).then(|| wrong.join("; "))
        }
        Event::Done { outcome, .. } => {
            let verdict = at.verdict(s, outcome);
            let label = match outcome {
                Outcome::Reading { point, .. } => label(point).unwrap_or_default(),
                _ => String::new(),
            };
            (!verdict.within).then(|| format!("{label}{}", verdict.words))
        }
        _ => None,
    }
}

/// Returns whether an officer knew of a result: they acknowledged it, or wrote at the step themselves afterwards.
fn is_known(at: &RunAt<'_>, s: usize, result: usize) -> bool {
    let id = &at.step(s).id;
    let acknowledged = at
        .counted()
        .filter(|i| names(&at.run.event(*i).event, AlarmKind::OutOfLimits, Some(id)).is_some());
    acknowledged
        .chain(at.of_step(s))
        .filter(|i| *i == result || at.had_seen(*i, result))
        .any(|i| at.run.event(i).roles.may_act_as(Role::Officer))
}

/// Returns since when the alarm stood that an event acknowledges, ms UTC, where it is one of this kind at this step.
fn names(event: &Event, kind: AlarmKind, step: Option<&StepId>) -> Option<i64> {
    match event {
        Event::Acknowledge {
            kind: named,
            step: at,
            since_ms,
        } if named == kind.name() && at.as_ref() == step => Some(*since_ms),
        _ => None,
    }
}

/// Returns who last acknowledged an alarm.
fn seen(at: &RunAt<'_>, alarm: &Alarm) -> Option<SeenView> {
    let by = at.counted().filter(|i| {
        let since = names(&at.run.event(*i).event, alarm.kind, alarm.step.as_ref());
        since == Some(alarm.since_ms)
    });
    by.last().map(|i| SeenView {
        by: at.person(i).clone(),
        at_ms: at.at_ms(i),
    })
}

/// Adds what must be gone by now, or for whose acceptance the time is over.
fn due_alarms(at: &RunAt<'_>, all: &mut Vec<Alarm>) {
    for defect in at.run.defects().iter().filter(|defect| defect.open) {
        let late = defect
            .due
            .filter(|_| defect.is_past_due(at.now) || defect.is_due_before(&at.run.procedure.slug));
        let said = match late {
            Some(due) => Some(words::due_past(due, &defect.text)),
            None => defect
                .is_past_accepted(at.now)
                .then(|| words::accepted_past(&defect.text)),
        };
        if let Some(said) = said {
            let since = defect.accepted_until_ms.filter(|until| *until <= at.now);
            let since = since.unwrap_or(defect.at_ms);
            all.push(Alarm::of_run(
                AlarmLevel::Warning,
                AlarmKind::NotSo,
                &said,
                since,
            ));
        }
    }
}

fn whole_run(at: &RunAt<'_>, closed: Option<usize>, all: &mut Vec<Alarm>) {
    for (s, step) in at.run.procedure.steps().iter().enumerate() {
        for (about, events) in &at.state(s).questions {
            all.push(Alarm {
                level: AlarmLevel::Warning,
                kind: AlarmKind::Question,
                step: Some(step.id.clone()),
                words: words::question(*about, &step.instruction),
                since_ms: events.iter().map(|i| at.at_ms(*i)).max().unwrap_or(at.now),
                seen: None,
            });
        }
    }
    for i in at.counted() {
        if let Event::Countersign { granted: false, .. } = at.run.event(i).event {
            all.push(Alarm::of_run(
                AlarmLevel::Warning,
                AlarmKind::Countersign,
                words::DENIED,
                at.at_ms(i),
            ));
        }
    }
    if closed.is_none() {
        due_alarms(at, all);
    }
    let ahead = (0..at.run.history.len()).map(|i| at.at_ms(i)).max();
    if let Some(latest) = ahead.filter(|latest| latest.saturating_sub(at.now) > CLOCK_TOLERANCE_MS)
    {
        all.push(Alarm::of_run(
            AlarmLevel::Warning,
            AlarmKind::Clock,
            words::CLOCKS_DIFFER,
            latest,
        ));
    }
    if let Some(close) = closed {
        let work = |i: &usize| {
            let event = &at.run.event(*i).event;
            matches!(
                event,
                Event::Done { .. }
                    | Event::NotSo { .. }
                    | Event::Consent { .. }
                    | Event::Log { .. }
                    | Event::Stop { .. }
            ) && !at.had_seen(close, *i)
        };
        let mut all_events = 0..at.run.history.len();
        if let Some(i) = all_events.find(|i| at.counts(*i) && work(i)) {
            all.push(Alarm::of_run(
                AlarmLevel::Notice,
                AlarmKind::AfterClose,
                words::AFTER_CLOSE,
                at.at_ms(i),
            ));
        }
    }
}
