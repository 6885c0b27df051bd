//! The kinds of step. Each is a module; this file lists them and holds the only match over them.

use minicbor::decode::{self, Decoder};
use minicbor::encode::{self, Encoder, Write};
use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use crate::definition::Point;
use crate::event::{Event, LogEntry, Outcome};
use crate::parse::{FileTable, StepCheck};
use crate::rehearsal::Answers;
use crate::requirement::Requirement;
use crate::run_at::{RunAt, StepState};
use crate::view::{Alarm, PointView, RunView, StepView, Verdict};
use crate::words;
use crate::write_check::Refusal;

mod choice;
mod confirm;
mod count;
mod each;
mod hold;
mod item;
mod log;
mod names;
mod people;
mod photo;
mod position;
mod reading;
mod text;
mod timer;
mod wait;

pub use choice::{Choice, ChoiceOption};
pub use confirm::Confirm;
pub use count::Count;
pub use each::Each;
pub use hold::Hold;
pub use item::Item;
pub use log::{Log, LogSide, Way};
pub use names::Names;
pub(crate) use people::Inside;
pub use people::{People, Watch};
pub use photo::Photo;
pub use position::Position;
pub use reading::Reading;
pub use text::Text;
pub use timer::Timer;
pub use wait::Wait;

/// Makes the enum and what needs a line for each kind. An index stands in records and is never used again.
macro_rules! kinds {
    ($($(#[doc = $doc:literal])* $index:literal $name:literal $kind:ident,)*) => {
        /// What a step asks for.
        #[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
        #[serde(rename_all = "kebab-case", tag = "is")]
        pub enum Kind {
            $($(#[doc = $doc])* $kind($kind),)*
        }

        /// The readers of the kinds, by the name that a file gives.
        const READERS: &[(&str, Reader)] = &[
            $(($name, |file| $kind::read(file).map(Kind::$kind)),)*
        ];

        impl Kind {
            /// Returns the rules of the kind.
            pub(crate) fn rules(&self) -> &dyn KindRules {
                match self {
                    $(Self::$kind(kind) => kind,)*
                }
            }

            /// Returns the kind's name as a file spells it.
            pub const fn name(&self) -> &'static str {
                match self {
                    $(Self::$kind(_) => $name,)*
                }
            }
        }

        impl<C> Encode<C> for Kind {
            fn encode<W: Write>(
                &self,
                to: &mut Encoder<W>,
                context: &mut C,
            ) -> Result<(), encode::Error<W::Error>> {
                to.array(2)?;
                match self {
                    $(Self::$kind(kind) => kind.encode(to.u32($index)?, context),)*
                }
            }
        }

        impl<'b, C> Decode<'b, C> for Kind {
            fn decode(from: &mut Decoder<'b>, context: &mut C) -> Result<Self, decode::Error> {
                let at = from.position();
                if from.array()? != Some(2) {
                    return Err(decode::Error::message("expected a kind and its fields").at(at));
                }
                let at = from.position();
                match from.u32()? {
                    $($index => Ok(Self::$kind($kind::decode(from, context)?)),)*
                    unknown => Err(decode::Error::unknown_variant(i64::from(unknown)).at(at)),
                }
            }
        }
    };
}

kinds! {
    /// Say that it is so.
    0 "confirm" Confirm,
    /// Read numbers.
    1 "reading" Reading,
    /// Choose one.
    2 "choice" Choice,
    /// Count.
    3 "count" Count,
    /// Take the position.
    4 "position" Position,
    /// Write it down.
    5 "text" Text,
    /// Take a photograph.
    6 "photo" Photo,
    /// Wait for consent.
    7 "hold" Hold,
    /// Let time pass.
    8 "wait" Wait,
    /// Keep a log, then say that it is finished.
    9 "log" Log,
    /// Keep the list of people in a space, then say that all are out.
    10 "people" People,
    /// Start a time, and let it run out.
    11 "timer" Timer,
    /// Say which item of gear it is done with.
    12 "item" Item,
    /// Say who takes part.
    13 "names" Names,
    /// Find a result for each item of some kinds of gear.
    14 "each" Each,
}

/// Reads what a file says of one kind of step.
type Reader = fn(&mut FileTable<'_, '_, '_, '_>) -> Option<Kind>;

/// Reads a step's kind: the one that its table names, or else a confirmation. A name that no kind has is a mistake.
pub(crate) fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Kind> {
    if !file.has("kind") {
        return Confirm::read(file).map(Kind::Confirm);
    }
    let read = file.word("kind", READERS)?;
    read(file)
}

impl Kind {
    /// Returns what is read at this step, once or again and again.
    pub fn points(&self) -> &[Point] {
        self.rules().points()
    }

    /// Returns whether it is answered by a reading at each of its points.
    pub(crate) fn answers_by_point(&self) -> bool {
        self.rules().answered_by_point()
    }

    /// Returns what can be chosen.
    pub fn options(&self) -> &[ChoiceOption] {
        self.rules().options()
    }

    /// Returns the consent that it waits for.
    pub fn consent(&self) -> Option<&Hold> {
        self.rules().consent()
    }

    /// Returns the list of people that it keeps.
    pub fn people(&self) -> Option<&People> {
        self.rules().people()
    }

    /// Returns of which kind of gear it asks for an item.
    pub fn item(&self) -> Option<&str> {
        self.rules().item()
    }

    /// Returns of which items it asks for a result each.
    pub fn each(&self) -> Option<&Each> {
        self.rules().each()
    }

    /// Returns whether it is about items of a kind of gear: one of them, or each.
    pub fn asks_for(&self, gear: &str) -> bool {
        let each = self.each();
        self.item() == Some(gear)
            || each.is_some_and(|each| each.items.iter().any(|kind| kind == gear))
    }

    /// Returns whose names it asks for.
    pub fn names(&self) -> Option<&Names> {
        self.rules().names()
    }

    /// Returns which way the cable goes whose log it keeps.
    pub fn cable(&self) -> Option<Way> {
        self.rules().cable()
    }

    /// Returns whose cable it is whose log it keeps, where the procedure says that.
    pub fn log_side(&self) -> Option<&LogSide> {
        match self {
            Self::Log(log) => log.side.as_ref(),
            _ => None,
        }
    }

    /// Returns whether its cable log begins with the anchor home.
    pub fn begins_home(&self) -> bool {
        matches!(self, Self::Log(log) if log.begins_home == Some(true))
    }
}

/// What one kind of step does otherwise than the others. A default is what most kinds do.
pub(crate) trait KindRules {
    /// Reads the kind from its step's table; what is wrong is noted, and nothing is returned if it cannot be made.
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self>
    where
        Self: Sized;

    /// Notes what a step of this kind cannot have, and steps that it names wrongly.
    fn check(&self, _check: &mut StepCheck<'_, '_>) {}

    /// Returns what is asked for.
    fn requirement(&self) -> Requirement<'_>;

    /// Lists the events that work the step to its end, as `answers` has it.
    fn rehearse(&self, view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event>;

    /// Returns whether a step can be done with this outcome.
    fn answers(&self, outcome: &Outcome) -> bool;

    /// Returns what is read, once or again and again.
    fn points(&self) -> &[Point] {
        &[]
    }

    /// Returns whether it is answered by a reading at each of its points, and not as a whole.
    fn answered_by_point(&self) -> bool {
        false
    }

    /// Returns by what its answers are told apart, where it is answered by point.
    fn point_keys(&self, at: &RunAt<'_>) -> Vec<String> {
        let points = self.points().iter().filter(|point| at.is_asked(point));
        points.map(|point| point.key.clone()).collect()
    }

    /// Returns of which items it asks for a result each.
    fn each(&self) -> Option<&Each> {
        None
    }

    /// Returns what can be chosen.
    fn options(&self) -> &[ChoiceOption] {
        &[]
    }

    /// Returns the consent that it waits for.
    fn consent(&self) -> Option<&Hold> {
        None
    }

    /// Returns the list of people that it keeps.
    fn people(&self) -> Option<&People> {
        None
    }

    /// Returns of which kind of gear it asks for an item.
    fn item(&self) -> Option<&str> {
        None
    }

    /// Returns whose names it asks for.
    fn names(&self) -> Option<&Names> {
        None
    }

    /// Returns whether a step of this kind belongs to the run at all, whatever its file says.
    fn belongs(&self, _at: &RunAt<'_>) -> bool {
        true
    }

    /// Returns which way the cable goes whose log it keeps.
    fn cable(&self) -> Option<Way> {
        None
    }

    /// Returns whether entries are written in it.
    fn keeps_log(&self) -> bool {
        false
    }

    /// Returns whether it runs against the clock, so that it has no result that could expire and that a second
    /// person could sign.
    fn keeps_time(&self) -> bool {
        false
    }

    /// Returns whether somebody works it; what is not worked passes by itself.
    fn is_worked(&self) -> bool {
        true
    }

    /// Returns whether somebody can work it now, given that its turn has come and that it has not passed.
    fn is_open(&self, _state: &StepState) -> bool {
        self.is_worked()
    }

    /// Returns whether a consent to one answer is no consent to another, although both are right.
    fn answer_is_consented_to(&self) -> bool {
        false
    }

    /// Returns whether it is done once and refused the second time.
    fn is_done_once(&self) -> bool {
        false
    }

    /// Returns whether it may be finished at any time, also where other steps come first.
    fn finishes_any_time(&self) -> bool {
        false
    }

    /// Returns what an outcome means against the limits.
    fn verdict(&self, _at: &RunAt<'_>, outcome: &Outcome) -> Verdict {
        plain_verdict(outcome)
    }

    /// Returns whether two outcomes, both within limits, cannot both be so.
    fn contradict(&self, _one: &Outcome, _other: &Outcome) -> bool {
        false
    }

    /// Finds the state of a step of this kind that belongs to the run.
    fn state(&self, at: &RunAt<'_>, s: usize) -> StepState {
        at.result_state(s)
    }

    /// Puts the step out of limits where entries written in it are, and returns whether it did.
    fn entries_out_of_limits(&self, _at: &RunAt<'_>, _s: usize, _state: &mut StepState) -> bool {
        false
    }

    /// Returns what keeps the step open although the event `done` finished it.
    fn unfinished(&self, _at: &RunAt<'_>, _s: usize, _done: usize) -> Option<&'static str> {
        None
    }

    /// Returns whether the step may be left as it is, once somebody says that it is left undone.
    fn may_be_left(&self, _at: &RunAt<'_>, _s: usize) -> bool {
        true
    }

    /// Returns whether the result of a passed step has been valid ever since the event `since`.
    fn valid_since(&self, at: &RunAt<'_>, s: usize, since: usize) -> bool {
        at.point_valid_since(s, None, since) && !at.answer_superseded(s, since)
    }

    /// Returns whether an entry may be written although the step's turn has not come, or is over.
    fn entry_open_out_of_turn(&self, _at: &RunAt<'_>, _s: usize) -> bool {
        false
    }

    /// Refuses to write that the step is done where something comes first.
    ///
    /// # Errors
    /// The [`Refusal`] that names what comes first.
    fn check_done(&self, at: &RunAt<'_>, s: usize) -> Result<(), Refusal> {
        at.blocked(s)
            .map_or(Ok(()), |because| Err(Refusal::Blocked(because)))
    }

    /// Refuses an entry that would say nothing, or of which nobody could say whose it is.
    ///
    /// # Errors
    /// The [`Refusal`] that says what is missing.
    fn check_entry(&self, _at: &RunAt<'_>, _entry: &LogEntry) -> Result<(), Refusal> {
        Ok(())
    }

    /// Shows what was read at each point.
    fn point_views(&self, at: &RunAt<'_>, s: usize, _state: &StepState) -> Vec<PointView> {
        let points = self.points().iter().filter(|point| at.is_asked(point));
        points.map(|point| log::point_view(at, s, point)).collect()
    }

    /// Returns when the next entry, or the next call to people inside, is due.
    fn entry_due(&self, _at: &RunAt<'_>, _s: usize, _state: &StepState) -> Option<i64> {
        None
    }

    /// Adds the alarms that the step raises while the run is open and the step belongs to it.
    fn alarms(&self, _at: &RunAt<'_>, _s: usize, _step: &StepView, _all: &mut Vec<Alarm>) {}

    /// Adds the alarms that the step raises whether the run is closed or not.
    fn lasting_alarms(&self, at: &RunAt<'_>, s: usize, step: &StepView, all: &mut Vec<Alarm>) {
        people::inside_alarms(at, s, step, all);
    }
}

/// Says an outcome that has no limits.
pub(crate) fn plain_verdict(outcome: &Outcome) -> Verdict {
    let words = match outcome {
        Outcome::Text { text } => text.clone(),
        Outcome::Position {
            lat_deg,
            lon_deg,
            accuracy_m,
        } => words::position(*lat_deg, *lon_deg, *accuracy_m),
        Outcome::Photo { .. } => words::PHOTO.to_owned(),
        Outcome::Item { item } => item.clone(),
        Outcome::Names { who } => words::names(who),
        Outcome::Each { item, found } => format!("{item}: {}", found.words()),
        Outcome::Confirmed
        | Outcome::Reading { .. }
        | Outcome::Chosen { .. }
        | Outcome::Counted { .. } => words::DONE.to_owned(),
    };
    Verdict {
        within: true,
        words,
    }
}
