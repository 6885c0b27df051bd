//! Who could act as what, and when, as the ship's authority vouched for it.

use std::collections::BTreeMap;

use crate::ids::{PersonId, Role, Roles};

/// A moment as records are stamped: wall part in ms UTC, then a counter.
pub type Stamp = (u64, u32);

/// The roles of everyone aboard, now and earlier: a word that was given by radio is judged by what its giver was
/// then, whatever became of them since.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Crew {
    terms: BTreeMap<PersonId, Vec<Term>>,
    names: BTreeMap<PersonId, String>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
struct Term {
    from: Stamp,
    until: Stamp,
    roles: Roles,
}

impl Crew {
    /// Adds that a person holds roles from a moment on, that moment included, until another, which is not.
    pub fn add(&mut self, person: PersonId, roles: Roles, from: Stamp, until: Stamp) {
        if from >= until {
            return;
        }
        let terms = self.terms.entry(person).or_default();
        match terms.last_mut() {
            Some(last) if last.until == from && last.roles == roles => last.until = until,
            _ => terms.push(Term { from, until, roles }),
        }
    }

    /// Says what a person is called.
    pub fn call(&mut self, person: PersonId, name: impl Into<String>) {
        self.names.insert(person, name.into());
    }

    /// Returns what a person is called; their identity where nobody has said it.
    pub fn name<'a>(&'a self, person: &'a PersonId) -> &'a str {
        self.names
            .get(person)
            .map_or(person.as_str(), String::as_str)
    }

    /// Returns the roles that a person held at a moment; none for someone of whom nothing is known.
    pub fn roles_at(&self, person: &PersonId, at: Stamp) -> Roles {
        let terms = self.terms.get(person).into_iter().flatten();
        terms
            .filter(|term| term.from <= at && at < term.until)
            .flat_map(|term| term.roles.list())
            .fold(Roles::NONE, Roles::with)
    }

    /// Lists who could act as `role` at a moment, by identity.
    pub fn who_may(&self, role: Role, at: Stamp) -> Vec<&PersonId> {
        self.terms
            .keys()
            .filter(|person| self.roles_at(person, at).may_act_as(role))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roles_are_those_of_the_moment() {
        let olga = PersonId::new("olga");
        let officer = Roles::of(&[Role::Officer]);
        let mut crew = Crew::default();
        crew.add(olga.clone(), officer, (10, 0), (20, 0));
        crew.add(olga.clone(), officer, (20, 0), (30, 0));
        crew.add(olga.clone(), Roles::of(&[Role::Master]), (40, 0), (50, 0));
        crew.add(olga.clone(), officer, (60, 0), (60, 0));
        assert_eq!(crew.terms[&olga].len(), 2, "one term follows the other");
        let at = |ms| crew.roles_at(&olga, (ms, 0));
        assert_eq!(at(9), Roles::NONE);
        assert_eq!((at(10), at(29)), (officer, officer));
        assert_eq!((at(30), at(60)), (Roles::NONE, Roles::NONE));
        assert_eq!(crew.who_may(Role::Master, (45, 0)), [&olga]);
        assert!(crew.who_may(Role::Master, (15, 0)).is_empty());
    }
}
