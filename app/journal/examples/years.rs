//! Writes what a crew puts on record in years, for measurements of a phone: closed runs of a hand's key.
//!
//! Takes the file of the ship's key, an export of the ship and how many runs; prints each record as a line of its place
//! in a phone's store and its bytes as hex.

use journal::{Body, Ledger};
use procedure::{End, Event};
use record::sync::Sequence;
use record::{Credential, Draft, Envelope, Hlc, KeyProtection, PersonId, RecordId, SoftKey, hex};
use std::fmt::Write as _;
use std::io::Write as _;

type Fault = Box<dyn std::error::Error>;

/// Messages in a run, beside its start and its end.
const MESSAGES: usize = 18;
/// Between two records, ms.
const STEP_MS: i64 = 60_000;

/// One chain and where it ends.
struct Hand {
    key: SoftKey,
    author: PersonId,
    end: Option<(u64, RecordId)>,
    now_ms: i64,
}

impl Hand {
    fn says(
        &mut self,
        ledger: &Ledger,
        run: Option<RecordId>,
        body: &Body,
    ) -> Result<Envelope, Fault> {
        self.now_ms += STEP_MS;
        let draft = Draft {
            vessel: ledger.vessel(),
            device: self.key.public().device(),
            seq: self.end.map_or(1, |(seq, _)| seq + 1),
            prev: self.end.map(|(_, id)| id),
            run,
            heads: Vec::new(),
            time_ms: self.now_ms,
            hlc: Hlc {
                ms: u64::try_from(self.now_ms)?,
                ctr: 0,
            },
            author: self.author.clone(),
            receipt: None,
            kind: body.kind().to_owned(),
            body: body.encode()?,
        };
        let unsigned = draft.to_be_signed()?;
        let signature = self.key.sign(unsigned.bytes());
        let envelope = unsigned.seal(signature);
        self.end = Some((envelope.seq(), envelope.id()));
        Ok(envelope)
    }

    fn works(&mut self, ledger: &Ledger, at: usize) -> Result<Vec<Envelope>, Fault> {
        let procedure = ledger
            .current("windlass-weekly")
            .ok_or("no such procedure")?;
        let start = Event::Start {
            procedure: procedure.hash(),
            slug: procedure.slug().to_owned(),
            choices: Vec::new(),
            remark: String::new(),
        };
        let start = self.says(ledger, None, &Body::Run(Box::new(start)))?;
        let run = Some(start.id());
        let mut made = vec![start];
        for message in 0..MESSAGES {
            let event = Event::Message {
                step: None,
                text: format!("Week {at}: brake {message} looked at, nothing found"),
                photo: None,
                voice: None,
            };
            made.push(self.says(ledger, run, &Body::Run(Box::new(event)))?);
        }
        let close = Event::Close {
            end: End::BrokenOff,
            remark: "weather".to_owned(),
        };
        made.push(self.says(ledger, run, &Body::Run(Box::new(close)))?);
        Ok(made)
    }
}

fn main() -> Result<(), Fault> {
    let mut arguments = std::env::args().skip(1);
    let mut next = |what: &'static str| arguments.next().ok_or(what);
    let seed = hex::decode(std::fs::read_to_string(next("the ship's key")?)?.trim());
    let seed = seed.and_then(|seed| seed.try_into().ok());
    let authority = SoftKey::from_seed(seed.ok_or("not a plain key")?);
    let export = std::fs::read(next("an export")?)?;
    let runs: usize = next("how many runs")?.parse()?;

    let mut ledger = Ledger::new(authority.public());
    let records = Sequence::new(&export).filter_map(|item| Envelope::decode(item.bytes).ok());
    ledger.admit_all(records.map(|record| (record, None)));
    let newest_ms = ledger.entries().map(|entry| entry.record.time_ms()).max();
    let newest_ms = newest_ms.ok_or("the export holds no record")?;
    let crew = &ledger.particulars().ok_or("the ship has no crew")?.crew;
    let person = crew
        .iter()
        .find(|person| person.roles.iter().any(|role| role == "officer"))
        .ok_or("the ship has no officer")?;
    let length = i64::try_from(runs * (MESSAGES + 2) + 2)? * STEP_MS;
    let begin_ms = newest_ms - length;

    let key = SoftKey::from_seed([0x5a; 32]);
    let credential = Credential {
        vessel: ledger.vessel(),
        person: PersonId::from(person.id.as_str()),
        key: key.public(),
        not_before_s: begin_ms / 1000 - 86_400,
        expires_s: newest_ms / 1000 + 400 * 86_400,
        id: None,
        name: person.name.clone(),
        rank: person.rank.clone(),
        roles: person.roles.clone(),
        protection: KeyProtection::Software,
    };
    let signed = credential.sign(&authority)?;
    let own = authority.public().device();
    let chain = ledger.chains().get(&own);
    let mut ship = Hand {
        key: authority,
        author: PersonId::from("ship"),
        end: chain.and_then(journal::ledger::Chain::last),
        now_ms: begin_ms,
    };
    let mut made = vec![ship.says(&ledger, None, &Body::Credential(signed.bytes().to_vec()))?];
    let mut hand = Hand {
        author: PersonId::from(person.id.as_str()),
        key,
        end: None,
        now_ms: begin_ms,
    };
    for at in 0..runs {
        made.extend(hand.works(&ledger, at)?);
    }
    ledger.admit_all(made.iter().take(64).map(|record| (record.clone(), None)));
    let first = ledger.run(made[1].id()).ok_or("the first run is not one")?;
    first.closed_ms.ok_or("the first run is not closed")?;

    let mut text = String::new();
    for record in &made {
        let bytes = hex::encode(record.bytes());
        writeln!(text, "{}/{:016} {bytes}", record.device(), record.seq())?;
    }
    std::io::stdout().write_all(text.as_bytes())?;
    Ok(())
}
