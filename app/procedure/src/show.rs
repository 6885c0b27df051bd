//! Makes the view of a run at one moment.

use crate::definition::Procedure;
use crate::event::{Event, Outcome};
use crate::ids::StepId;
use crate::kind::{Inside, KindRules};
use crate::run_at::{RunAt, SecondState};
use crate::state::{RunState, VoidReason};
use crate::view::{
    AnswerView, AttendantView, AwaitingView, CloseView, DefectView, HistoryLine, InsideView,
    LogView, Progress, QuestionEvent, QuestionView, RunView, SecondView, SecondWanted, Status,
    StepView, StopView,
};
use crate::{questions, words};

mod alarms;

impl RunState {
    /// Says how the run stands at a moment, ms UTC.
    pub fn view(&self, now_ms: i64) -> RunView {
        let at = RunAt::whole(self, now_ms);
        let defects = self.defects();
        let steps: Vec<StepView> = (0..self.procedure.steps.len())
            .map(|s| step_view(&at, s, &defects))
            .collect();
        let start = at.counted().find_map(|i| match &self.event(i).event {
            Event::Start {
                procedure,
                choices,
                remark,
                ..
            } => Some((i, *procedure, choices.clone(), remark.clone())),
            _ => None,
        });
        let hash = self.procedure.hash();
        let ids = |wanted: fn(&StepView) -> bool| {
            steps
                .iter()
                .filter(|step| wanted(step))
                .map(|step| step.id.clone())
                .collect()
        };
        let closed = at.closed();
        let inside = at.inside();
        let stopped = at.stopped().map(|i| StopView {
            by: at.person(i).clone(),
            at_ms: at.at_ms(i),
            cause: match &self.event(i).event {
                Event::Stop { cause } => cause.clone(),
                _ => String::new(),
            },
        });
        RunView {
            slug: self.procedure.slug.clone(),
            title: self.procedure.title.clone(),
            edition: self.procedure.edition.clone(),
            procedure: hash,
            wrong_procedure: start
                .as_ref()
                .is_some_and(|(_, pinned, ..)| *pinned != hash),
            cautions: self.cautions(),
            remark: start
                .as_ref()
                .map_or_else(String::new, |(.., remark)| remark.clone()),
            choices: start
                .as_ref()
                .map_or_else(Vec::new, |(_, _, choices, _)| choices.clone()),
            started_by: start.as_ref().map(|(i, ..)| at.person(*i).clone()),
            started_at_ms: start.as_ref().map(|(i, ..)| at.at_ms(*i)),
            last_at_ms: self
                .history
                .events
                .iter()
                .map(|stamped| stamped.at_ms)
                .max(),
            next: if closed.is_some() {
                Vec::new()
            } else {
                next(&steps, &inside, &self.procedure)
            },
            holds: if closed.is_some() {
                Vec::new()
            } else {
                ids(asks_consent)
            },
            progress: progress(&steps),
            questions: question_views(&at),
            attendants: attendants(&at),
            messages: at.messages(),
            inside: inside
                .iter()
                .map(|inside| InsideView {
                    who: inside.who.clone(),
                    step: self.procedure.steps[inside.step].id.clone(),
                    since_ms: at.at_ms(inside.event),
                    rescuer: inside.rescuer,
                })
                .collect(),
            countdowns: alarms::countdowns(&steps, now_ms),
            alarms: alarms::alarms(&at, &steps),
            stopped,
            open_before_close: at.open_before_close(crate::End::Completed),
            closed: closed.and_then(|i| match &self.event(i).event {
                Event::Close { end, remark } => Some(CloseView {
                    by: at.person(i).clone(),
                    at_ms: at.at_ms(i),
                    end: *end,
                    remark: remark.clone(),
                }),
                _ => None,
            }),
            history: (0..self.history.len())
                .map(|i| history_line(&at, i))
                .collect(),
            steps,
            defects,
        }
    }

    /// Lists what was gone past and wants a second's signature still, at a moment, ms UTC.
    pub fn seconds_wanted(&self, now_ms: i64) -> Vec<SecondWanted> {
        let steps = self.procedure.steps();
        if !steps.iter().any(crate::Step::second_may_be_later) {
            return Vec::new();
        }
        RunAt::whole(self, now_ms).seconds_wanted()
    }

    /// Lists the procedure's cautions, after what is to be known of a run with too many entries.
    fn cautions(&self) -> Vec<String> {
        let beyond = self.beyond();
        let full = if beyond > 0 {
            Some(words::beyond(beyond))
        } else {
            self.is_full().then(|| words::FULL.to_owned())
        };
        full.into_iter()
            .chain(self.procedure.cautions.iter().cloned())
            .collect()
    }

    /// Lists the defects of this run, and the open ones from elsewhere on gear that it touches.
    pub(crate) fn defects(&self) -> Vec<DefectView> {
        let mut own = crate::defects(&[&self.procedure], self.events(), &self.crew);
        let touched = |gear: &String| {
            self.procedure
                .steps
                .iter()
                .any(|step| step.gear.contains(gear))
        };
        for defect in &self.elsewhere {
            let known = own.iter().any(|other| other.id == defect.id);
            let is_touched = defect.gear.iter().any(touched)
                || self.asks_for(defect)
                || defect.is_due_before(&self.procedure.slug);
            if defect.open && !known && is_touched {
                own.push(defect.clone());
            }
        }
        own
    }
}

/// Lists the steps that can be worked. Where people are inside a space, the list of them comes before all else, so
/// that who writes them out never has to look for it.
fn next(steps: &[StepView], inside: &[Inside], procedure: &Procedure) -> Vec<StepId> {
    let holds_people = |step: &StepView| {
        let mut inside = inside.iter();
        inside.any(|one| procedure.steps()[one.step].id == step.id)
    };
    let (first, others): (Vec<_>, Vec<_>) = steps
        .iter()
        .filter(|step| step.open || holds_people(step))
        .partition(|step| holds_people(step));
    let all = first.into_iter().chain(others);
    all.map(|step| step.id.clone()).collect()
}

/// Lists who attends at the hatch of a space.
fn attendants(at: &RunAt<'_>) -> Vec<AttendantView> {
    let mut all = Vec::new();
    for (s, step) in at.run.procedure.steps().iter().enumerate() {
        if step.kind.rules().people().is_some() {
            all.extend(at.attendants(s).into_iter().map(|who| AttendantView {
                who: who.clone(),
                step: step.id.clone(),
            }));
        }
    }
    all
}

fn step_view(at: &RunAt<'_>, s: usize, defects: &[DefectView]) -> StepView {
    let step = at.step(s);
    let state = at.state(s);
    let blocked = at.blocked(s);
    let by = state.event.map(|i| match at.run.event(i).event {
        Event::Consent { .. } => at.consenter(i).clone(),
        _ => at.person(i).clone(),
    });
    let answer = state
        .event
        .and_then(|i| Some(at.verdict(s, at.outcome(i)?).words));
    let on_step = |defect: &&DefectView| {
        let here = defect.slug == at.run.procedure.slug && defect.step == step.id;
        here || (defect.open && defect.gear.iter().any(|gear| step.gear.contains(gear)))
    };
    let settled = state.passed && matches!(state.status, Status::Done | Status::NotDone(_));
    let rules = step.kind.rules();
    let spent = at.expired_after_use(s);
    StepView {
        id: step.id.clone(),
        number: u32::try_from(s + 1).unwrap_or(u32::MAX),
        section: step.section.clone(),
        instruction: step.instruction.clone(),
        why: step.why.clone(),
        how: step.how().to_vec(),
        cautions: step.cautions.clone(),
        kind: step.kind.clone(),
        place: step.place,
        applies: state.applies,
        words: if spent {
            words::EXPIRED_AFTER_USE.to_owned()
        } else {
            state.words.clone()
        },
        passed: state.applies && state.passed,
        open: state.applies
            && (blocked.is_none() || at.entry_open(s))
            && !state.passed
            && !settled
            && rules.is_open(&state)
            && !spent,
        spent: state.applies && spent,
        may_do: rules.consent().map_or(step.by, |hold| hold.consent),
        by,
        at_ms: state.at_ms,
        out_of_sequence: state.out_of_sequence,
        points: rules.point_views(at, s, &state),
        options: rules.options().to_vec(),
        items: if state.applies {
            at.items(s)
        } else {
            Vec::new()
        },
        answer,
        photo: state.event.and_then(|i| match at.outcome(i) {
            Some(Outcome::Photo { hash }) => Some(*hash),
            _ => None,
        }),
        second: second_view(at, &state.second),
        second_later: at.wanted_later(s).is_some(),
        good_until_ms: state.valid_until,
        ends_at_ms: state.ends_at,
        awaiting_countersign: state.awaiting.map(|i| AwaitingView {
            event: at.run.event(i).id,
            from: at.consenter(i).clone(),
            heard_by: at.person(i).clone(),
        }),
        log: log_views(at, s),
        entry_due_ms: rules.entry_due(at, s, &state),
        defects: defects.iter().filter(on_step).cloned().collect(),
        on_fault: step.on_fault,
        skip: step.skip,
        gone_on: state.gone_on.and_then(|i| match &at.run.event(i).event {
            Event::GoOn { reason, .. } => Some(reason.clone()),
            _ => None,
        }),
        event: state.event.map(|i| at.run.event(i).id),
        status: state.status.clone(),
    }
}

fn second_view(at: &RunAt<'_>, second: &SecondState) -> SecondView {
    match second {
        SecondState::NotNeeded => SecondView::NotNeeded,
        SecondState::Needed => SecondView::Needed,
        SecondState::Wanted { event, not_by } => SecondView::Wanted {
            event: at.run.event(*event).id,
            not_by: not_by.clone(),
        },
        SecondState::Signed(i) => SecondView::Signed {
            by: at.person(*i).clone(),
            at_ms: at.at_ms(*i),
        },
    }
}

fn log_views(at: &RunAt<'_>, s: usize) -> Vec<LogView> {
    let entries = at.run.by_step[s]
        .iter()
        .filter(|i| at.run.statuses[**i].void.is_none());
    entries
        .filter_map(|i| match &at.run.event(*i).event {
            Event::Log { entry, .. } => Some(LogView {
                wrong: wrong(at, s, entry),
                event: at.run.event(*i).id,
                by: at.person(*i).clone(),
                at_ms: at.at_ms(*i),
                words: words::log(entry),
                entry: entry.clone(),
                struck: at.struck(*i).is_some(),
            }),
            _ => None,
        })
        .collect()
}

/// Says which readings of an entry are out of limits.
fn wrong(at: &RunAt<'_>, s: usize, entry: &crate::LogEntry) -> Vec<String> {
    let points = at.step(s).kind.points();
    let of = |(key, value): &(String, crate::Decimal)| {
        let point = points.iter().find(|point| point.key == *key)?;
        let limits = at.limits_of(point);
        let verdict = limits.verdict(*value, &point.unit);
        (!verdict.within).then(|| format!("{}: {}", point.label, verdict.words))
    };
    entry.readings.iter().filter_map(of).collect()
}

fn progress(steps: &[StepView]) -> Progress {
    let count = |wanted: &dyn Fn(&StepView) -> bool| {
        u32::try_from(
            steps
                .iter()
                .filter(|step| step.applies && wanted(step))
                .count(),
        )
        .unwrap_or(u32::MAX)
    };
    Progress {
        passed: count(&|step| step.passed || step.spent),
        total: count(&|_| true),
        wrong: count(&|step| match step.status {
            Status::OutOfLimits | Status::NotSo(_) => true,
            Status::Stale => !step.spent,
            _ => false,
        }),
        held: count(&asks_consent),
    }
}

/// Returns whether a hold waits for consent now: never given, refused, or fallen since.
fn asks_consent(step: &StepView) -> bool {
    let not_given = matches!(step.status, Status::Held | Status::Stale);
    step.kind.consent().is_some() && not_given && step.open
}

fn question_views(at: &RunAt<'_>) -> Vec<QuestionView> {
    let mut views: Vec<QuestionView> = Vec::new();
    let of = |i: usize| QuestionEvent {
        event: at.run.event(i).id,
        by: at.person(i).clone(),
        at_ms: at.at_ms(i),
        words: said(at, i),
    };
    for (s, step) in at.run.procedure.steps().iter().enumerate() {
        for (about, events) in &at.state(s).questions {
            let ids: Vec<&[u8; 32]> = events.iter().map(|i| &at.run.event(*i).id).collect();
            views.push(QuestionView {
                id: questions::name(*about, &step.id, &ids),
                step: step.id.clone(),
                words: words::question(*about, &step.instruction),
                events: events.iter().map(|i| of(*i)).collect(),
                answer: None,
            });
        }
    }
    for ruling in at
        .run
        .rulings
        .iter()
        .filter(|ruling| at.counts(ruling.answer))
    {
        let Event::AnswerQuestion {
            question,
            stands,
            reason,
        } = &at.run.event(ruling.answer).event
        else {
            continue;
        };
        let (Some(about), Some(step)) = (questions::About::of(question), questions::step(question))
        else {
            continue;
        };
        if ruling.about.is_empty()
            || views
                .iter()
                .any(|view| view.id == *question && view.answer.is_none())
        {
            continue;
        }
        let instruction = at
            .run
            .procedure
            .step(&step)
            .map_or("", |step| step.instruction.as_str());
        views.push(QuestionView {
            id: question.clone(),
            words: words::question(about, instruction),
            step,
            events: ruling.about.iter().map(|i| of(*i)).collect(),
            answer: Some(AnswerView {
                by: at.person(ruling.answer).clone(),
                at_ms: at.at_ms(ruling.answer),
                stands: *stands,
                reason: reason.clone(),
            }),
        });
    }
    views
}

/// Says what an event was, with the meaning of its number.
fn said(at: &RunAt<'_>, i: usize) -> String {
    let event = &at.run.event(i).event;
    let step = event.step().and_then(|id| at.run.procedure.index_of(id));
    let verdict = match (step, at.outcome(i)) {
        (Some(s), Some(outcome)) if at.run.statuses[i].void.is_none() => {
            Some(at.verdict(s, outcome))
        }
        _ => None,
    };
    let words = words::event(
        event,
        verdict.as_ref().map(|verdict| verdict.words.as_str()),
        &at.run.crew,
    );
    // What was lacking as its device saw it, whoever signs afterwards.
    if matches!(event, Event::Close { .. }) {
        let lacked = RunAt::as_seen_by(at.run, i).seconds_wanted();
        let lacked: Vec<_> = lacked.into_iter().map(|one| one.instruction).collect();
        return words::without_second(words, &lacked);
    }
    // A reading names the point at which it was read.
    let Event::Done {
        outcome: Outcome::Reading { point, .. },
        ..
    } = event
    else {
        return words;
    };
    let rules = step.map(|s| at.rules(s));
    let points = rules.filter(|rules| rules.answered_by_point());
    let mut points = points.into_iter().flat_map(KindRules::points);
    match points.find(|known| known.key == *point) {
        Some(known) => format!("{}: {words}", known.label),
        None => words,
    }
}

fn history_line(at: &RunAt<'_>, i: usize) -> HistoryLine {
    let stamped = at.run.event(i);
    let status = &at.run.statuses[i];
    let struck = at.struck(i).map(|by| {
        let reason = match &at.run.event(by).event {
            Event::StrikeOut { reason, .. } => reason.clone(),
            _ => String::new(),
        };
        (at.person(by).clone(), reason)
    });
    let words = said(at, i);
    HistoryLine {
        id: stamped.id,
        step: stamped.event.step().cloned(),
        by: stamped.person.clone(),
        at_ms: stamped.at_ms,
        words: match status.void {
            None => words,
            Some(VoidReason::NoRight) => {
                format!("{words} (counts for nothing: not theirs to sign)")
            }
            Some(VoidReason::NotTheirsToGive) => {
                format!("{words} (counts for nothing: not theirs to give)")
            }
            Some(VoidReason::NoSuchStep) => {
                format!("{words} (counts for nothing: the procedure has no such step)")
            }
            Some(VoidReason::DoesNotFit) => {
                format!("{words} (counts for nothing: not what the step asks for)")
            }
        },
        struck,
        out_of_sequence: status.out_of_sequence,
        without_right: status.void.is_some(),
        event: stamped.event.clone(),
    }
}
