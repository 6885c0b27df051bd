//! What the engine says in values, in sentences.

use super::Word;
use procedure::{PersonId, Refusal, Role};
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/engine.rs"));
}

/// Names a role.
pub fn role(role: Role) -> Word {
    match role {
        Role::Crew => ROLE_CREW,
        Role::Officer => ROLE_OFFICER,
        Role::Master => ROLE_MASTER,
        Role::OfficeReader => ROLE_OFFICE_READER,
        Role::OfficeAdministrator => ROLE_OFFICE_ADMINISTRATOR,
    }
}

/// Says why something may not be written; `name` says what a person is called.
pub fn refusal(refusal: &Refusal, name: impl Fn(&PersonId) -> String) -> String {
    match refusal {
        Refusal::AlreadyStarted => REFUSED_ALREADY_STARTED.into(),
        Refusal::NotStarted => REFUSED_NOT_STARTED.into(),
        Refusal::WrongProcedure => REFUSED_WRONG_PROCEDURE.into(),
        Refusal::Closed => REFUSED_CLOSED.into(),
        Refusal::Full(entries) => refused_full(&entries.to_string()),
        Refusal::NoSuchStep(what) => refused_no_such_step(what),
        Refusal::DoesNotFit(what) => refused_does_not_fit(what),
        Refusal::NotTheirs(role) => refused_not_theirs(role),
        Refusal::Blocked(what) => refused_blocked(what),
        Refusal::AlreadyDone(who) => refused_already_done(&name(who)),
        Refusal::SamePerson(who) => refused_same_person(&name(who)),
        Refusal::NoSecondWanted => REFUSED_NO_SECOND_WANTED.into(),
        Refusal::NoReason => REFUSED_NO_REASON.into(),
        Refusal::NeverSkipped => REFUSED_NEVER_SKIPPED.into(),
        Refusal::NothingToGoOn => REFUSED_NOTHING_TO_GO_ON.into(),
        Refusal::MustBeRight => REFUSED_MUST_BE_RIGHT.into(),
        Refusal::NotByRadio => REFUSED_NOT_BY_RADIO.into(),
        Refusal::NotTheirsToGive(who, role) => refused_not_theirs_to_give(&name(who), role),
        Refusal::HeardOneself => REFUSED_HEARD_ONESELF.into(),
        Refusal::NoSuchEvent => REFUSED_NO_SUCH_EVENT.into(),
        Refusal::CannotStrike => REFUSED_CANNOT_STRIKE.into(),
        Refusal::AlreadyStruck => REFUSED_ALREADY_STRUCK.into(),
        Refusal::NotTheirEntry(who) => refused_not_their_entry(&name(who)),
        Refusal::NotHeard => REFUSED_NOT_HEARD.into(),
        Refusal::AlreadyInside(who) => refused_already_inside(&name(who)),
        Refusal::Attends(who) => refused_attends(&name(who)),
        Refusal::AttendsFromInside(who) => refused_attends_from_inside(&name(who)),
        Refusal::EmptyEntry => REFUSED_EMPTY_ENTRY.into(),
        Refusal::NoCableNamed => REFUSED_NO_CABLE_NAMED.into(),
        Refusal::OtherCable(side) => refused_other_cable(side),
        Refusal::NoRestriction => REFUSED_NO_RESTRICTION.into(),
        Refusal::NoSuchItem(item) => refused_no_such_item(item),
        Refusal::NoName => REFUSED_NO_NAME.into(),
        Refusal::NotStopped => REFUSED_NOT_STOPPED.into(),
        Refusal::NoSuchQuestion => REFUSED_NO_SUCH_QUESTION.into(),
        Refusal::StillOpen(things) => refused_still_open(&things.join("; ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_catalogue_says_what_the_terminal_says() {
        for refused in [
            Refusal::AlreadyStarted,
            Refusal::NotStarted,
            Refusal::WrongProcedure,
            Refusal::Closed,
            Refusal::NoSuchStep("this".to_owned()),
            Refusal::DoesNotFit("master"),
            Refusal::NotTheirs("master"),
            Refusal::Blocked("this".to_owned()),
            Refusal::AlreadyDone(PersonId::new("holt")),
            Refusal::SamePerson(PersonId::new("holt")),
            Refusal::NoSecondWanted,
            Refusal::NoReason,
            Refusal::NeverSkipped,
            Refusal::NothingToGoOn,
            Refusal::MustBeRight,
            Refusal::NotByRadio,
            Refusal::NotTheirsToGive(PersonId::new("holt"), "master"),
            Refusal::HeardOneself,
            Refusal::NoSuchEvent,
            Refusal::CannotStrike,
            Refusal::AlreadyStruck,
            Refusal::NotTheirEntry(PersonId::new("holt")),
            Refusal::NotHeard,
            Refusal::AlreadyInside(PersonId::new("holt")),
            Refusal::Attends(PersonId::new("holt")),
            Refusal::AttendsFromInside(PersonId::new("holt")),
            Refusal::EmptyEntry,
            Refusal::NoCableNamed,
            Refusal::OtherCable("port"),
            Refusal::NoRestriction,
            Refusal::NoSuchItem("GM-1".to_owned()),
            Refusal::NoName,
            Refusal::NotStopped,
            Refusal::NoSuchQuestion,
            Refusal::StillOpen(vec!["a".to_owned(), "b".to_owned()]),
        ] {
            assert_eq!(refusal(&refused, ToString::to_string), refused.to_string());
        }
    }
}
