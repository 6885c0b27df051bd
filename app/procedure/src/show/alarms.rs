//! What runs against the clock, and what must be looked at.

use crate::event::Event;
use crate::run_at::{CLOCK_TOLERANCE_MS, RunAt};
use crate::view::{Alarm, AlarmKind, AlarmLevel, Countdown, CountdownKind, Status, StepView};
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
    all.sort_by(|a, b| {
        (a.level, a.since_ms, a.kind, &a.step).cmp(&(b.level, b.since_ms, b.kind, &b.step))
    });
    all
}

fn of_step(at: &RunAt<'_>, s: usize, step: &StepView, all: &mut Vec<Alarm>) {
    let spent = at.expired_after_use(s);
    let since = step.at_ms.unwrap_or(at.now);
    let mut push =
        |level, kind, since| all.push(Alarm::of_step(level, kind, step, &step.words, since));
    match &step.status {
        Status::OutOfLimits if step.gone_on.is_none() => {
            push(AlarmLevel::Warning, AlarmKind::OutOfLimits, since);
        }
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
