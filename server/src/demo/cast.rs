//! The demo's people, their devices and the records they make.

use crate::authority::random_seed;
use crate::fleet::AUTHORITY_PERSON;
use journal::memory::{MemoryStore, SetClock, finish};
use journal::{Body, Intent, Ledger, Person, Place, SettingsBody, VesselBody};
use procedure::cable::Side;
use procedure::{Cable, Settings};
use record::{Credential, KeyProtection, PersonId, RecordId, SoftKey, VerifiedRecord};
use std::collections::BTreeMap;

/// The port cable of the demo's ships, invented: nine lengths and the paints of their joints.
const MARKS: &str = "27.5 white\n27.5 blue\n27.5 red\n27.5 white white\n27.5 white blue\n27.5 white red\n\
    27.5 blue red\n27.5 yellow\n27.5";

/// One vessel's people, each with a device of their own.
#[derive(Debug)]
pub struct Cast<'k> {
    /// What follows from the records so far.
    pub ledger: Ledger,
    authority: &'k SoftKey,
    keys: BTreeMap<String, SoftKey>,
    store: MemoryStore,
    records: Vec<VerifiedRecord>,
}

impl<'k> Cast<'k> {
    /// Puts the vessel and her crew on record and gives everyone a key and a credential.
    ///
    /// # Errors
    /// What was refused, in words.
    pub fn muster(
        authority: &'k SoftKey,
        name: &str,
        particulars: &str,
        (latitude_deg, longitude_deg): (f64, f64),
        crew: Vec<Person>,
        now_ms: i64,
    ) -> Result<Self, String> {
        let mut cast = Self {
            ledger: Ledger::new(authority.public()),
            authority,
            keys: BTreeMap::new(),
            store: MemoryStore::default(),
            records: Vec::new(),
        };
        #[expect(
            clippy::cast_possible_truncation,
            reason = "degrees times 1e7 fit 32 bits"
        )]
        let e7 = |degrees: f64| (degrees * 1e7).round() as i32;
        let body = VesselBody {
            name: name.to_owned(),
            particulars: particulars.to_owned(),
            crew: crew.clone(),
            latitude_e7: e7(latitude_deg),
            longitude_e7: e7(longitude_deg),
            ashore: None,
        };
        cast.say(AUTHORITY_PERSON, None, Body::Vessel(body), now_ms)?;
        for (member, after) in crew.iter().zip(1_i64..) {
            let key = SoftKey::from_seed(random_seed().map_err(|error| error.to_string())?);
            let credential = Credential {
                vessel: cast.authority.public().vessel(),
                person: PersonId::from(member.id.as_str()),
                key: key.public(),
                not_before_s: now_ms / 1000 - 86_400,
                expires_s: now_ms / 1000 + 365 * 86_400,
                id: None,
                name: member.name.clone(),
                rank: member.rank.clone(),
                roles: member.roles.clone(),
                protection: KeyProtection::Software,
            };
            let signed = credential
                .sign(cast.authority)
                .map_err(|refusal| refusal.to_string())?;
            let body = Body::Credential(signed.bytes().to_vec());
            cast.say(AUTHORITY_PERSON, None, body, now_ms + after * 1000)?;
            cast.keys.insert(member.id.clone(), key);
        }
        Ok(cast)
    }

    /// Returns every record, in the order in which it was made.
    pub fn records(&self) -> &[VerifiedRecord] {
        &self.records
    }

    /// Has the master sign a plan at `signed_ms` for a stay of 20 hours.
    ///
    /// # Errors
    /// What was refused, in words.
    pub fn plan(
        &mut self,
        master: &str,
        ship: &str,
        place: (f64, f64),
        signed_ms: i64,
        from_ms: i64,
    ) -> Result<RecordId, String> {
        let body = super::plan::body(ship, place, from_ms, from_ms + 20 * 3_600_000)?;
        self.say(master, None, body, signed_ms)
    }

    /// Describes the cables, as the master of a ship does once.
    ///
    /// # Errors
    /// What was refused, in words.
    pub fn describe_cables(&mut self, master: &str, now_ms: i64) -> Result<RecordId, String> {
        let cable = Cable::parse(MARKS, "27.5").map_err(|error| error.to_string())?;
        let mut settings = Settings::defaults();
        // The starboard one was shortened once, as on many a ship.
        let shorter = Cable::parse(&format!("{}13.5", MARKS.trim_end_matches("27.5")), "27.5");
        let shorter = shorter.map_err(|error| error.to_string())?;
        settings.cables.set(Side::Port, cable);
        settings.cables.set(Side::Starboard, shorter);
        let json = serde_json::to_string(&settings).map_err(|error| error.to_string())?;
        self.say(master, None, Body::Settings(SettingsBody { json }), now_ms)
    }

    /// Puts something on record by `who`, with their own device.
    ///
    /// # Errors
    /// What was refused, in words.
    pub fn say(
        &mut self,
        who: &str,
        run: Option<RecordId>,
        body: Body,
        now_ms: i64,
    ) -> Result<RecordId, String> {
        let key = if who == AUTHORITY_PERSON {
            self.authority
        } else {
            self.keys
                .get(who)
                .ok_or_else(|| format!("nobody is called {who:?}"))?
        };
        let intent = Intent {
            author: PersonId::from(who),
            run,
            body,
            receipt: None,
        };
        let place = Place::in_ledger(&self.ledger, run, key.public().device(), now_ms);
        let clock = SetClock::at(now_ms);
        let record = finish(journal::write(&self.store, key, &clock, &place, &intent))
            .map_err(|error| error.to_string())?;
        let id = record.id();
        self.ledger.admit_verified(record.clone(), Some(now_ms));
        self.records.push(record);
        Ok(id)
    }
}
