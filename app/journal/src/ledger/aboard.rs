//! Who could act as what, and when: the crew lists and credentials of the ship's authority, each for its time.

use super::Ledger;
use crate::body::roles_from_words;
use procedure::{Crew, PersonId, Stamp};
use record::Hlc;
use std::sync::Arc;

/// No end.
const FOR_EVER: Stamp = (u64::MAX, u32::MAX);

impl Ledger {
    /// Returns the roles of everyone, now and earlier.
    ///
    /// A person could act by the crew list of that moment or by a credential that held then: either would have
    /// let them sign. A moment before the first of either has what the first says, as clocks can be far behind.
    pub fn crew(&self) -> Arc<Crew> {
        self.crew
            .get_or_init(|| Arc::new(self.reckon_crew()))
            .clone()
    }

    fn reckon_crew(&self) -> Crew {
        let mut crew = Crew::default();
        let lists: Vec<_> = self.crew_lists.iter().collect();
        for (i, ((stamp, _), people)) in lists.iter().enumerate() {
            let from = if i == 0 { (0, 0) } else { moment(*stamp) };
            let until = lists
                .get(i + 1)
                .map_or(FOR_EVER, |((next, _), _)| moment(*next));
            for person in *people {
                crew.call(PersonId::new(&person.id), &person.name);
                crew.add(
                    PersonId::new(&person.id),
                    roles_from_words(&person.roles),
                    from.max(person.joins_ms.map_or((0, 0), start_of)),
                    until.min(person.leaves_ms.map_or(FOR_EVER, start_of)),
                );
            }
        }
        for (device, history) in &self.roles {
            let withdrawn = self.withdrawn.get(device);
            let gone = withdrawn.map_or(FOR_EVER, |gone| start_of(gone.from_ms));
            let said: Vec<_> = history.iter().collect();
            for (i, ((stamp, _), credential)) in said.iter().enumerate() {
                let from = if i == 0 { (0, 0) } else { moment(*stamp) };
                let next = said.get(i + 1);
                let next = next.map_or(FOR_EVER, |((next, _), _)| moment(*next));
                let expires = start_of(credential.expires_s.saturating_mul(1000));
                let person = PersonId::new(credential.person.as_str());
                crew.add(person, credential.roles, from, next.min(gone).min(expires));
            }
        }
        crew
    }
}

fn moment(stamp: Hlc) -> Stamp {
    (stamp.ms, stamp.ctr)
}

fn start_of(ms: i64) -> Stamp {
    (u64::try_from(ms).unwrap_or(0), 0)
}
