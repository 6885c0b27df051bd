//! Works a procedure as a crew would: the next open step, its readings, the second person, the consent.

use super::cast::Cast;
use journal::{Body, RunId};
use procedure::{
    ConsentBy, Decimal, End, Event, Grows, Kind, LogEntry, MarkAt, Outcome, PersonId, PointView,
    RunView, SecondView, Severity, StepView, Way,
};

/// How a demo run ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// Worked to its end and closed.
    Closed,
    /// The same, with a defect found on the way.
    WithDefect,
    /// Left in the middle.
    Half,
}

/// More acts than any procedure needs: the walk has lost its way.
const MOST_ACTS: usize = 400;
/// Shackles that the demo lets out.
pub const SHACKLES: i64 = 6;

/// Two hands and an officer at work.
#[derive(Debug)]
pub struct Story<'a, 'k> {
    cast: &'a mut Cast<'k>,
    hand: &'a str,
    second: &'a str,
    officer: &'a str,
    now_ms: i64,
    acts: i64,
}

impl<'a, 'k> Story<'a, 'k> {
    /// Makes a story of these people.
    pub fn new(cast: &'a mut Cast<'k>, hand: &'a str, second: &'a str, officer: &'a str) -> Self {
        Self {
            cast,
            hand,
            second,
            officer,
            now_ms: 0,
            acts: 0,
        }
    }

    /// Works `slug` from `start_ms` on.
    ///
    /// # Errors
    /// What was refused, in words.
    pub fn work(mut self, slug: &str, start_ms: i64, ending: Ending) -> Result<(), String> {
        self.now_ms = start_ms;
        let procedure = self
            .cast
            .ledger
            .current(slug)
            .cloned()
            .ok_or_else(|| format!("no procedure {slug}"))?;
        let hash = procedure.hash();
        if !self.cast.ledger.has_text_of(hash) {
            let text = self.cast.ledger.text_of(slug).ok_or("no text of it")?;
            self.cast
                .say(self.hand, None, Body::Procedure(text), self.now_ms)?;
        }
        let start = Event::Start {
            procedure: hash,
            slug: slug.to_owned(),
            choices: Vec::new(),
            remark: String::new(),
        };
        let run = self
            .cast
            .say(self.hand, None, Body::Run(Box::new(start)), self.now_ms)?;
        let mut defect_is_due = ending == Ending::WithDefect;
        for _ in 0..MOST_ACTS {
            let view = self.view(run)?;
            if ending == Ending::Half && view.progress.passed * 2 >= view.progress.total {
                return Ok(());
            }
            let Some(step) = view
                .next
                .first()
                .and_then(|id| view.steps.iter().find(|s| s.id == *id))
            else {
                // Nothing can be done before a time is up: wait for it.
                let soonest = view
                    .countdowns
                    .iter()
                    .map(|c| c.ends_at_ms)
                    .filter(|t| *t > self.now_ms);
                if let (false, Some(ends)) = (view.open_before_close.is_empty(), soonest.min()) {
                    self.now_ms = ends;
                    continue;
                }
                return self.close(run, &view);
            };
            if defect_is_due && view.progress.passed * 3 >= view.progress.total * 2 {
                defect_is_due = false;
                self.defect(run, step)?;
            }
            self.step(run, step)?;
        }
        Err(format!("{slug} is not done after {MOST_ACTS} acts"))
    }

    fn view(&self, run: RunId) -> Result<RunView, String> {
        let state = self
            .cast
            .ledger
            .run(run)
            .and_then(|file| file.state.clone());
        state
            .map(|state| state.view(self.now_ms))
            .ok_or_else(|| "the run is not here".to_owned())
    }

    /// Lets time go by as work does, never twice the same.
    fn pass(&mut self) {
        self.acts += 1;
        self.now_ms += 22_000 + self.acts * 37 % 61 * 1_000;
    }

    fn say(&mut self, who: &str, run: RunId, event: Event) -> Result<(), String> {
        self.pass();
        self.cast
            .say(who, Some(run), Body::Run(Box::new(event)), self.now_ms)?;
        Ok(())
    }

    fn defect(&mut self, run: RunId, step: &StepView) -> Result<(), String> {
        let event = Event::NotSo {
            step: step.id.clone(),
            severity: Severity::Watch,
            text: "Weep at the hydraulic joint under the port motor, wiped, two drops a minute"
                .to_owned(),
            photo: None,
        };
        self.say(self.second, run, event)?;
        let event = Event::GoOn {
            step: step.id.clone(),
            reason: "a weep, watched; the engineer has been told".to_owned(),
        };
        self.say(self.officer, run, event)
    }

    fn step(&mut self, run: RunId, step: &StepView) -> Result<(), String> {
        if let SecondView::Wanted { event, not_by } = &step.second {
            let second = if not_by.iter().any(|who| who.as_str() == self.second) {
                self.hand
            } else {
                self.second
            };
            let second = if not_by.iter().any(|who| who.as_str() == second) {
                self.officer
            } else {
                second
            };
            return self.say(second, run, Event::Second { event: *event });
        }
        let done = |outcome| Event::Done {
            step: step.id.clone(),
            outcome,
        };
        let who = match step.may_do {
            procedure::Role::Crew => self.hand,
            _ => self.officer,
        };
        match &step.kind {
            Kind::Confirm(_) => self.say(who, run, done(Outcome::Confirmed)),
            Kind::Wait { .. } => {
                if let Some(ends) = step.ends_at_ms {
                    self.now_ms = self.now_ms.max(ends);
                }
                self.say(who, run, done(Outcome::Confirmed))
            }
            Kind::Reading { .. } => {
                let open = |point: &&PointView| !point.verdict.as_ref().is_some_and(|v| v.within);
                let point = step.points.iter().find(open).or(step.points.first());
                let point = point.ok_or("a reading without points")?;
                let value = reading(point).ok_or_else(|| format!("no value for {}", point.key))?;
                self.say(
                    who,
                    run,
                    done(Outcome::Reading {
                        point: point.key.clone(),
                        value,
                    }),
                )
            }
            Kind::Choice(procedure::kind::Choice { options }) => {
                let good = options
                    .iter()
                    .find(|option| !option.bad)
                    .ok_or("no good choice")?;
                self.say(
                    who,
                    run,
                    done(Outcome::Chosen {
                        option: good.key.clone(),
                    }),
                )
            }
            Kind::Count { .. } => {
                let limits = step.points.first().map(|point| &point.limits);
                let least = limits
                    .and_then(|l| l.min.or(l.above))
                    .map_or(2.0, Decimal::to_f64);
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "small"
                )]
                let count = least.max(2.0) as u32;
                self.say(who, run, done(Outcome::Counted { count }))
            }
            Kind::Position(_) => {
                let lat_deg = Decimal::new(435_121, 4).ok_or("position")?;
                let lon_deg = Decimal::new(70_614, 4).ok_or("position")?;
                let outcome = Outcome::Position {
                    lat_deg,
                    lon_deg,
                    accuracy_m: None,
                };
                self.say(who, run, done(outcome))
            }
            Kind::Text(_) => {
                let text = if step.id.as_str() == "length" {
                    format!("{SHACKLES} shackles, counted on deck")
                } else {
                    "Nothing to remark.".to_owned()
                };
                self.say(who, run, done(Outcome::Text { text }))
            }
            Kind::Photo(_) => {
                let reason = "too dark for a photograph".to_owned();
                self.say(
                    self.officer,
                    run,
                    Event::NotDone {
                        step: step.id.clone(),
                        reason,
                    },
                )
            }
            Kind::Hold { .. } => {
                let event = Event::Consent {
                    step: step.id.clone(),
                    granted: true,
                    how: ConsentBy::Network,
                    words: String::new(),
                };
                let master = self
                    .cast
                    .ledger
                    .particulars()
                    .and_then(|body| body.crew.first());
                let master = master.map(|person| person.id.clone()).unwrap_or_default();
                self.say(&master, run, event)
            }
            Kind::Log(procedure::kind::Log { cable, .. }) => {
                let cable = *cable;
                self.log(run, step, cable)?;
                self.say(who, run, done(Outcome::Confirmed))
            }
            Kind::People { .. } => {
                let attend = Event::Attend {
                    step: step.id.clone(),
                    who: PersonId::new(self.officer),
                };
                self.say(self.hand, run, attend)?;
                for who in [self.hand, self.second] {
                    let who = PersonId::new(who);
                    self.say(
                        self.hand,
                        run,
                        Event::In {
                            step: step.id.clone(),
                            who,
                            rescue: None,
                        },
                    )?;
                }
                for who in [self.hand, self.second] {
                    let who = PersonId::new(who);
                    self.say(
                        self.hand,
                        run,
                        Event::Out {
                            step: step.id.clone(),
                            who,
                        },
                    )?;
                }
                self.say(self.hand, run, done(Outcome::Confirmed))
            }
        }
    }

    fn log(&mut self, run: RunId, step: &StepView, cable: Option<Way>) -> Result<(), String> {
        let log = |entry| Event::Log {
            step: step.id.clone(),
            entry,
        };
        let Some(way) = cable else {
            let readings = step
                .points
                .iter()
                .filter_map(|point| Some((point.key.clone(), reading(point)?)))
                .collect();
            let entry = LogEntry {
                readings,
                ..LogEntry::default()
            };
            return self.say(self.hand, run, log(entry));
        };
        let marks: Vec<i64> = match way {
            Way::Out => (1..=SHACKLES).collect(),
            Way::Home => (0..SHACKLES).rev().collect(),
        };
        for mark in marks {
            let entry = LogEntry {
                mark: Decimal::new(mark, 0),
                at: Some(MarkAt::Gypsy),
                ..LogEntry::default()
            };
            self.say(self.hand, run, log(entry))?;
            if mark % 2 == 0 {
                let grows = match (way, mark) {
                    (Way::Home, 0) => Grows::Aweigh,
                    (Way::Home, 2) => Grows::ShortStay,
                    (Way::Out, 6) => Grows::LongStay,
                    _ => Grows::Medium,
                };
                let entry = LogEntry {
                    lead_oclock: Some(if mark == 4 { 1 } else { 12 }),
                    grows: Some(grows),
                    strain: Some(if mark == 2 { 1 } else { 2 }),
                    ..LogEntry::default()
                };
                self.say(self.hand, run, log(entry))?;
            }
        }
        Ok(())
    }

    fn close(&mut self, run: RunId, view: &RunView) -> Result<(), String> {
        if view.closed.is_some() {
            return Ok(());
        }
        if !view.open_before_close.is_empty() {
            return Err(format!("still open: {}", view.open_before_close.join("; ")));
        }
        let event = Event::Close {
            end: End::Completed,
            remark: String::new(),
        };
        let master = self
            .cast
            .ledger
            .particulars()
            .and_then(|body| body.crew.first());
        let master = master.map(|person| person.id.clone()).unwrap_or_default();
        self.say(&master, run, event)
    }
}

/// Returns a value for a reading as a sound ship would show it: well inside its limits.
fn reading(point: &PointView) -> Option<Decimal> {
    let limits = &point.limits;
    let low = limits.min.or(limits.above).map(Decimal::to_f64);
    let high = limits.max.or(limits.below).map(Decimal::to_f64);
    let oxygen = point.key.contains("o2") && !point.key.contains("co2");
    let value = match (low, high) {
        // By the plan: charted depth and a little of the tide; the draught taken off.
        _ if point.key == "depth" => 26.9,
        _ if point.key == "under-keel" => 24.0,
        _ if oxygen => 20.9,
        (Some(low), Some(high)) => f64::midpoint(low, high),
        (Some(low), None) => low * 1.3 + 0.01,
        (None, Some(high)) => high * 0.4,
        (None, None) => 1.0,
    };
    let places = if value.abs() < 10.0 { 2 } else { 1 };
    Decimal::from_f64(value, places)
}
