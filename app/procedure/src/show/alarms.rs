//! What runs against the clock, and what must be looked at.

use crate::definition::Kind;
use crate::event::Event;
use crate::run_at::{CLOCK_TOLERANCE_MS, Inside, RunAt, StepState};
use crate::view::{Alarm, AlarmKind, AlarmLevel, Countdown, CountdownKind, Status, StepView};
use crate::words;

/// Returns when the next entry of a log, or the next call to the people inside, is due.
pub(super) fn entry_due(at: &RunAt<'_>, s: usize, state: &StepState) -> Option<i64> {
    let (span, last) = match &at.step(s).kind {
        Kind::Log {
            every: Some(span), ..
        } => {
            let open = state.applies && !state.passed && at.blocked(s).is_none();
            let before = || {
                at.step(s)
                    .after
                    .iter()
                    .filter_map(|id| at.state_of(id)?.at_ms)
                    .max()
            };
            (
                span,
                open.then(|| at.last_call(s).or_else(before)).flatten(),
            )
        }
        Kind::People {
            call_every: Some(span),
            ..
        } => {
            let someone = at.inside().iter().any(|inside| inside.step == s);
            (span, someone.then(|| at.last_call(s)).flatten())
        }
        _ => return None,
    };
    Some(last?.saturating_add(at.span_ms(span)?))
}

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
        let consent = matches!(step.kind, Kind::Hold { .. });
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
    people(at, steps, &mut all);
    if closed.is_none() {
        if let Some(stop) = at.stopped() {
            all.push(alarm(
                AlarmLevel::Danger,
                AlarmKind::Stopped,
                None,
                words::STOPPED,
                at.at_ms(stop),
            ));
        }
        for step in steps.iter().filter(|step| step.applies) {
            of_step(at, step, &mut all);
        }
    }
    whole_run(at, closed, &mut all);
    all.sort_by(|a, b| {
        (a.level, a.since_ms, a.kind, &a.step).cmp(&(b.level, b.since_ms, b.kind, &b.step))
    });
    all
}

fn alarm(
    level: AlarmLevel,
    kind: AlarmKind,
    step: Option<&StepView>,
    words: &str,
    since_ms: i64,
) -> Alarm {
    Alarm {
        level,
        kind,
        step: step.map(|step| step.id.clone()),
        words: words.to_owned(),
        since_ms,
    }
}

/// People inside while what their entry stands on is no longer good are in danger.
fn people(at: &RunAt<'_>, steps: &[StepView], all: &mut Vec<Alarm>) {
    let inside = at.inside();
    for step in steps {
        let here: Vec<_> = inside
            .iter()
            .filter(|i| at.run.procedure.steps[i.step].id == step.id)
            .collect();
        let Some(first) = here.first() else { continue };
        let s = first.step;
        let (rescuers, others): (Vec<&Inside>, Vec<&Inside>) =
            here.iter().copied().partition(|i| i.rescuer);
        if let Some(rescuer) = rescuers.first() {
            let who: Vec<_> = rescuers.iter().map(|i| &i.who).collect();
            all.push(alarm(
                AlarmLevel::Danger,
                AlarmKind::ManDown,
                Some(step),
                &words::rescuers(&who),
                at.at_ms(rescuer.event),
            ));
        }
        if let Some(first) = others.first()
            && let Some(because) = at.entry_blocked(s)
        {
            let words = format!("everybody out: {because}");
            all.push(alarm(
                AlarmLevel::Danger,
                AlarmKind::Inside,
                Some(step),
                &words,
                at.at_ms(first.event),
            ));
        }
        if let Kind::People { at_least, .. } = step.kind
            && at_least > 1
            && here.len() == 1
        {
            let since = at.at_ms(first.event);
            all.push(alarm(
                AlarmLevel::Warning,
                AlarmKind::Inside,
                Some(step),
                words::ALONE,
                since,
            ));
        }
        if let Some(due) = step.entry_due_ms.filter(|due| at.now >= *due) {
            let words = "the call to the people inside is overdue";
            all.push(alarm(
                AlarmLevel::Danger,
                AlarmKind::CallOverdue,
                Some(step),
                words,
                due,
            ));
        }
    }
}

fn of_step(at: &RunAt<'_>, step: &StepView, all: &mut Vec<Alarm>) {
    let spent = at
        .run
        .procedure
        .index_of(&step.id)
        .is_some_and(|s| at.expired_after_use(s));
    let since = step.at_ms.unwrap_or(at.now);
    let mut push =
        |level, kind, since| all.push(alarm(level, kind, Some(step), &step.words, since));
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
    // Only the newest entry tells how things stand now.
    let said = step.status == Status::OutOfLimits && step.gone_on.is_none();
    let watched = matches!(&step.kind, Kind::People { watch: Some(_), .. });
    let index = at.run.procedure.index_of(&step.id);
    if let (true, Some(s)) = (watched, index) {
        let wrong = at.newest_wrong(s);
        if let Some(since) = wrong.iter().map(|(i, _)| at.at_ms(*i)).max() {
            let words = words::air_out(&at.said_wrong(s, &wrong));
            let level = AlarmLevel::Warning;
            all.push(alarm(
                level,
                AlarmKind::OutOfLimits,
                Some(step),
                &words,
                since,
            ));
        }
    } else if let Some(entry) = step
        .log
        .iter()
        .rev()
        .find(|entry| !entry.struck)
        .filter(|entry| !said && !entry.wrong.is_empty())
    {
        let words = entry.wrong.join("; ");
        all.push(alarm(
            AlarmLevel::Warning,
            AlarmKind::OutOfLimits,
            Some(step),
            &words,
            entry.at_ms,
        ));
    }
    let is_log = matches!(step.kind, Kind::Log { .. });
    if let Some(due) = step.entry_due_ms.filter(|due| is_log && at.now >= *due) {
        all.push(alarm(
            AlarmLevel::Warning,
            AlarmKind::EntryOverdue,
            Some(step),
            "an entry is overdue",
            due,
        ));
    }
    // A wait that is over is told until something that waited for it is done.
    let ends = step
        .ends_at_ms
        .filter(|_| step.passed && matches!(step.kind, Kind::Wait { .. }));
    if let Some(ends) = ends {
        let mut waiting = at
            .run
            .procedure
            .steps()
            .iter()
            .enumerate()
            .filter(|(_, s)| s.after.contains(&step.id));
        if waiting.any(|(s, _)| at.blocked(s).is_none() && at.state(s).event.is_none()) {
            all.push(alarm(
                AlarmLevel::Notice,
                AlarmKind::WaitOver,
                Some(step),
                words::WAIT_OVER,
                ends,
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
            });
        }
    }
    for i in at.counted() {
        if let Event::Countersign { granted: false, .. } = at.run.event(i).event {
            all.push(alarm(
                AlarmLevel::Warning,
                AlarmKind::Countersign,
                None,
                words::DENIED,
                at.at_ms(i),
            ));
        }
    }
    let ahead = (0..at.run.history.len()).map(|i| at.at_ms(i)).max();
    if let Some(latest) = ahead.filter(|latest| latest.saturating_sub(at.now) > CLOCK_TOLERANCE_MS)
    {
        all.push(alarm(
            AlarmLevel::Warning,
            AlarmKind::Clock,
            None,
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
            all.push(alarm(
                AlarmLevel::Notice,
                AlarmKind::AfterClose,
                None,
                words::AFTER_CLOSE,
                at.at_ms(i),
            ));
        }
    }
}
