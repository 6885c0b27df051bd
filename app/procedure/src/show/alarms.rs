//! What runs against the clock, and what must be looked at.

use crate::definition::Kind;
use crate::event::Event;
use crate::lens::{CLOCK_TOLERANCE_MS, Inside, Lens, Standing};
use crate::view::{Alarm, AlarmKind, AlarmLevel, Countdown, CountdownKind, Status, StepView};
use crate::words;

/// Returns when the next entry of a log, or the next call to the people inside, is due.
pub(super) fn entry_due(lens: &Lens<'_>, s: usize, standing: &Standing) -> Option<i64> {
    let (span, last) = match &lens.step(s).kind {
        Kind::Log {
            every: Some(span), ..
        } => {
            let open = standing.applies && !standing.passed && lens.blocked(s).is_none();
            let before = || {
                lens.step(s)
                    .after
                    .iter()
                    .filter_map(|id| lens.standing_of(id)?.at_ms)
                    .max()
            };
            (
                span,
                open.then(|| lens.last_call(s).or_else(before)).flatten(),
            )
        }
        Kind::People {
            call_every: Some(span),
            ..
        } => {
            let someone = lens.inside().iter().any(|inside| inside.step == s);
            (span, someone.then(|| lens.last_call(s)).flatten())
        }
        _ => return None,
    };
    Some(last?.saturating_add(lens.span_ms(span)?))
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
pub(super) fn alarms(lens: &Lens<'_>, steps: &[StepView]) -> Vec<Alarm> {
    let mut all = Vec::new();
    let closed = lens.closed();
    people(lens, steps, &mut all);
    if closed.is_none() {
        if let Some(stop) = lens.stopped() {
            all.push(alarm(
                AlarmLevel::Danger,
                AlarmKind::Stopped,
                None,
                words::STOPPED,
                lens.at_ms(stop),
            ));
        }
        for step in steps.iter().filter(|step| step.applies) {
            of_step(lens, step, &mut all);
        }
    }
    whole_run(lens, closed, &mut all);
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
fn people(lens: &Lens<'_>, steps: &[StepView], all: &mut Vec<Alarm>) {
    let inside = lens.inside();
    for step in steps {
        let here: Vec<_> = inside
            .iter()
            .filter(|i| lens.run.procedure.steps[i.step].id == step.id)
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
                lens.at_ms(rescuer.event),
            ));
        }
        if let Some(first) = others.first()
            && let Some(because) = lens.entry_blocked(s)
        {
            let words = format!("everybody out: {because}");
            all.push(alarm(
                AlarmLevel::Danger,
                AlarmKind::Inside,
                Some(step),
                &words,
                lens.at_ms(first.event),
            ));
        }
        if let Kind::People { at_least, .. } = step.kind
            && at_least > 1
            && here.len() == 1
        {
            let since = lens.at_ms(first.event);
            all.push(alarm(
                AlarmLevel::Warning,
                AlarmKind::Inside,
                Some(step),
                words::ALONE,
                since,
            ));
        }
        if let Some(due) = step.entry_due_ms.filter(|due| lens.now >= *due) {
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

fn of_step(lens: &Lens<'_>, step: &StepView, all: &mut Vec<Alarm>) {
    let spent = lens
        .run
        .procedure
        .index_of(&step.id)
        .is_some_and(|s| lens.spent(s));
    let since = step.at_ms.unwrap_or(lens.now);
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
    let index = lens.run.procedure.index_of(&step.id);
    if let (true, Some(s)) = (watched, index) {
        let wrong = lens.newest_wrong(s);
        if let Some(since) = wrong.iter().map(|(i, _)| lens.at_ms(*i)).max() {
            let words = words::air_out(&lens.said_wrong(s, &wrong));
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
    if let Some(due) = step.entry_due_ms.filter(|due| is_log && lens.now >= *due) {
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
        let mut waiting = lens
            .run
            .procedure
            .steps()
            .iter()
            .enumerate()
            .filter(|(_, s)| s.after.contains(&step.id));
        if waiting.any(|(s, _)| lens.blocked(s).is_none() && lens.standing(s).event.is_none()) {
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

fn whole_run(lens: &Lens<'_>, closed: Option<usize>, all: &mut Vec<Alarm>) {
    for (s, step) in lens.run.procedure.steps().iter().enumerate() {
        for (about, events) in &lens.standing(s).questions {
            all.push(Alarm {
                level: AlarmLevel::Warning,
                kind: AlarmKind::Question,
                step: Some(step.id.clone()),
                words: words::question(*about, &step.instruction),
                since_ms: events
                    .iter()
                    .map(|i| lens.at_ms(*i))
                    .max()
                    .unwrap_or(lens.now),
            });
        }
    }
    for i in lens.counted() {
        if let Event::Countersign { granted: false, .. } = lens.run.event(i).event {
            all.push(alarm(
                AlarmLevel::Warning,
                AlarmKind::Countersign,
                None,
                words::DENIED,
                lens.at_ms(i),
            ));
        }
    }
    let ahead = (0..lens.run.history.len()).map(|i| lens.at_ms(i)).max();
    if let Some(at) = ahead.filter(|at| at.saturating_sub(lens.now) > CLOCK_TOLERANCE_MS) {
        all.push(alarm(
            AlarmLevel::Warning,
            AlarmKind::Clock,
            None,
            words::CLOCKS_DIFFER,
            at,
        ));
    }
    if let Some(close) = closed {
        let work = |i: &usize| {
            let event = &lens.run.event(*i).event;
            matches!(
                event,
                Event::Done { .. }
                    | Event::NotSo { .. }
                    | Event::Consent { .. }
                    | Event::Log { .. }
                    | Event::Stop { .. }
            ) && !lens.had_seen(close, *i)
        };
        let mut all_events = 0..lens.run.history.len();
        if let Some(i) = all_events.find(|i| lens.counts(*i) && work(i)) {
            all.push(alarm(
                AlarmLevel::Notice,
                AlarmKind::AfterClose,
                None,
                words::AFTER_CLOSE,
                lens.at_ms(i),
            ));
        }
    }
}
