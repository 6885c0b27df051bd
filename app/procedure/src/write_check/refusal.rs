//! Why an event may not be written, in words for the person at the screen.

use crate::ids::PersonId;

/// Why an event may not be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Refusal {
    /// The run has begun already.
    #[error("the run has already been started")]
    AlreadyStarted,
    /// The run has not begun.
    #[error("the run has not been started")]
    NotStarted,
    /// The run pins another procedure.
    #[error("the run works another procedure than this one")]
    WrongProcedure,
    /// The run is closed.
    #[error("the run is closed")]
    Closed,
    /// The run has as many entries as it is to have.
    #[error("this run has {0} entries, as many as it may have: close it and begin another")]
    Full(usize),
    /// The procedure has no such step.
    #[error("the procedure has no step '{0}'")]
    NoSuchStep(String),
    /// The step asks for something else.
    #[error("the step asks for a {0}")]
    DoesNotFit(&'static str),
    /// The person has not the role for it.
    #[error("this is for the {0}")]
    NotTheirs(&'static str),
    /// Something else comes first.
    #[error("not yet: {0}")]
    Blocked(String),
    /// It is done already.
    #[error("already done by {0}; strike it out first if it is wrong")]
    AlreadyDone(PersonId),
    /// Someone else must do it.
    #[error("someone else must do this: {0} did what it checks")]
    SamePerson(PersonId),
    /// A second signature is not wanted.
    #[error("no second person's signature is wanted there")]
    NoSecondWanted,
    /// Words are missing.
    #[error("a reason must be given")]
    NoReason,
    /// The step can never be left out.
    #[error("this step can never be left out")]
    NeverSkipped,
    /// There is nothing to go on past.
    #[error("there is nothing here to go on past")]
    NothingToGoOn,
    /// Nobody can go past it.
    #[error("this must be put right; nobody can let the work go past it")]
    MustBeRight,
    /// Radio does not do for this hold.
    #[error("this consent must be signed by who gives it; radio does not do")]
    NotByRadio,
    /// Who was heard has not the role for it.
    #[error("{0} cannot give this consent: it is for the {1} to give")]
    NotTheirsToGive(PersonId, &'static str),
    /// A person cannot hear themselves.
    #[error("who writes down a consent cannot be who gave it")]
    HeardOneself,
    /// Nothing there to strike out or countersign.
    #[error("there is no such entry in this run")]
    NoSuchEvent,
    /// That kind of entry cannot be struck out.
    #[error("this entry cannot be struck out")]
    CannotStrike,
    /// It is struck out already.
    #[error("this entry is struck out already")]
    AlreadyStruck,
    /// Only the author or the officer may strike out.
    #[error("only {0} or the officer may strike this out")]
    NotTheirEntry(PersonId),
    /// Only who was heard may countersign.
    #[error("only who was heard, or the master, may countersign this")]
    NotHeard,
    /// The person is inside already.
    #[error("{0} is inside already")]
    AlreadyInside(PersonId),
    /// Who attends at the hatch never goes in.
    #[error("{0} attends at the hatch and cannot go in; someone else must take over there first")]
    Attends(PersonId),
    /// Who is inside cannot attend at the hatch.
    #[error("{0} is inside and cannot attend at the hatch")]
    AttendsFromInside(PersonId),
    /// An entry says nothing.
    #[error("this entry says nothing: give a mark, a reading or words")]
    EmptyEntry,
    /// It is not said whose cable an entry is about.
    #[error("say first which cable this is: port or starboard")]
    NoCableNamed,
    /// An entry is about another cable than the log.
    #[error("this is the log of the {0} cable")]
    OtherCable(&'static str),
    /// The master has to say how gear that is out of service may be used.
    #[error("say what may be done with it, and what may not")]
    NoRestriction,
    /// No item of that code is on the register.
    #[error("no item {0} is on the gear register")]
    NoSuchItem(String),
    /// A name is missing.
    #[error("a name must be given")]
    NoName,
    /// No stop stands.
    #[error("the work is not stopped")]
    NotStopped,
    /// No such question is open.
    #[error("there is no such question open")]
    NoSuchQuestion,
    /// Something keeps the run open.
    #[error("still open: {}", .0.join("; "))]
    StillOpen(Vec<String>),
}
