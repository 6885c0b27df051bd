//! Works a procedure as a crew would: the next open step, its readings, the second person, the consent.

use super::cast::Cast;
use journal::{Body, RunId};
use procedure::rehearsal::{self, Answers, Next, Plainly};
use procedure::{
    Decimal, End, Event, Grows, LogEntry, MarkAt, PersonId, PointView, Role, RunView, SecondView,
    Severity, StepView, Way,
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
/// The step at which the demo's defect is found.
const FOUND_AT: &str = "walk-round";
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
            // Whoever is to sign later stands beside it here.
            let mut later = view.steps.iter().filter(|step| step.second_later);
            if let Some(SecondView::Wanted { event, not_by }) =
                later.next().map(|step| &step.second)
            {
                self.second(run, *event, not_by)?;
                continue;
            }
            if ending == Ending::Half && view.progress.passed * 2 >= view.progress.total {
                return Ok(());
            }
            let step = match rehearsal::next(&view) {
                Next::Second { event, not_by } => {
                    self.second(run, event, not_by)?;
                    continue;
                }
                Next::Work(step) => step,
                Next::Wait(until_ms) => {
                    self.now_ms = self.now_ms.max(until_ms);
                    continue;
                }
                Next::Close | Next::Stuck(_) => return self.close(run, &view),
            };
            if defect_is_due && step.id.as_str() == FOUND_AT {
                defect_is_due = false;
                self.defect(run, step)?;
            }
            self.step(run, &view, step)?;
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
            text: "Pin of the starboard chain stopper is stiff: greased, goes home by hand, still binds"
                .to_owned(),
            photo: None,
            terms: None,
        };
        self.say(self.second, run, event)?;
        let event = Event::GoOn {
            step: step.id.clone(),
            reason: "the pin goes home and locks; watched, the engineer has been told".to_owned(),
        };
        self.say(self.officer, run, event)
    }

    fn second(&mut self, run: RunId, event: [u8; 32], not_by: &[PersonId]) -> Result<(), String> {
        let did = |who: &str| not_by.iter().any(|one| one.as_str() == who);
        let hands = [self.second, self.hand, self.officer];
        let second = hands.into_iter().find(|who| !did(who));
        let second = second.ok_or("nobody is left to sign as second")?;
        self.say(second, run, Event::Second { event })
    }

    fn step(&mut self, run: RunId, view: &RunView, step: &StepView) -> Result<(), String> {
        let told = Told {
            hand: self.hand,
            second: self.second,
            officer: self.officer,
        };
        let events = rehearsal::work(view, step, &told);
        if events.is_empty() {
            return Err(format!("nobody can work {}", step.id));
        }
        let master = self.master();
        for event in events {
            let who = match (&event, step.may_do) {
                (Event::Consent { .. }, _) => &master,
                (Event::NotDone { .. }, _) => self.officer,
                (Event::Done { .. }, role) if role != Role::Crew => self.officer,
                _ => self.hand,
            };
            self.say(who, run, event)?;
        }
        Ok(())
    }

    fn master(&self) -> String {
        let particulars = self.cast.ledger.particulars();
        let master = particulars.and_then(|body| body.crew.first());
        master.map(|person| person.id.clone()).unwrap_or_default()
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
        let master = self.master();
        self.say(&master, run, event)
    }
}

/// What the people of a story find and say.
struct Told<'a> {
    hand: &'a str,
    second: &'a str,
    officer: &'a str,
}

impl Answers for Told<'_> {
    fn reading(&self, point: &PointView) -> Decimal {
        reading(point).unwrap_or_else(|| Plainly.reading(point))
    }

    fn count(&self, _step: &StepView, least: u32) -> u32 {
        least.max(2)
    }

    fn names(&self, at_least: usize) -> Vec<PersonId> {
        let aboard = [self.hand, self.second, self.officer].into_iter();
        aboard.take(at_least.max(1)).map(PersonId::new).collect()
    }

    fn position(&self) -> (Decimal, Decimal, Option<Decimal>) {
        let plain = Plainly.position();
        let lat_deg = Decimal::new(-435_121, 4).unwrap_or(plain.0);
        let lon_deg = Decimal::new(-200_614, 4).unwrap_or(plain.1);
        (lat_deg, lon_deg, None)
    }

    fn text(&self, _step: &StepView) -> String {
        "Nothing to remark.".to_owned()
    }

    fn entries(&self, step: &StepView) -> Vec<LogEntry> {
        match step.kind.cable() {
            Some(way) => cable_log(way),
            None if step.kind.people().is_some() => Vec::new(),
            None => Plainly.entries(step),
        }
    }

    fn people(&self) -> (PersonId, Vec<PersonId>) {
        let inside = [self.hand, self.second].map(PersonId::new);
        (PersonId::new(self.officer), inside.to_vec())
    }
}

/// Lists the entries of a cable log: each mark at the gypsy, and now and then how the cable lies.
fn cable_log(way: Way) -> Vec<LogEntry> {
    let marks: Vec<i64> = match way {
        Way::Out => (1..=SHACKLES).collect(),
        Way::Home => (0..SHACKLES).rev().collect(),
    };
    let mut entries = Vec::new();
    for mark in marks {
        entries.push(LogEntry {
            mark: Decimal::new(mark, 0),
            at: Some(MarkAt::Gypsy),
            ..LogEntry::default()
        });
        if mark % 2 == 0 {
            let grows = match (way, mark) {
                (Way::Home, 0) => Grows::Aweigh,
                (Way::Home, 2) => Grows::ShortStay,
                (Way::Out, 6) => Grows::LongStay,
                _ => Grows::Medium,
            };
            entries.push(LogEntry {
                lead_oclock: Some(if mark == 4 { 1 } else { 12 }),
                grows: Some(grows),
                strain: Some(if mark == 2 { 1 } else { 2 }),
                ..LogEntry::default()
            });
        }
    }
    entries
}

/// Returns a value for a reading as a sound ship would show it: well inside its limits.
fn reading(point: &PointView) -> Option<Decimal> {
    let limits = &point.limits;
    if limits.is_date {
        return None;
    }
    let low = limits.min.or(limits.above).map(Decimal::to_f64);
    let high = limits.max.or(limits.below).map(Decimal::to_f64);
    let oxygen = point.key.contains("o2") && !point.key.contains("co2");
    let value = match (low, high) {
        // By the plan: charted depth and a little of the tide; the draught taken off.
        _ if point.key == "depth" => 26.9,
        _ if point.key == "under-keel" => 24.0,
        _ if point.key == "shackles" => return Decimal::new(SHACKLES, 0),
        _ if oxygen => 20.9,
        (Some(low), Some(high)) => f64::midpoint(low, high),
        (Some(low), None) => low * 1.3 + 0.01,
        (None, Some(high)) => high * 0.4,
        (None, None) => 1.0,
    };
    let places = if value.abs() < 10.0 { 2 } else { 1 };
    Decimal::from_f64(value, places)
}
