//! A client that sends as badly as a link can make it, and remembers what was acknowledged.

use crate::support::hand::Hand;
use crate::support::http;
use crate::support::link::{Fate, Link};
use crate::support::ship::{SEED, Ship, vessel};
use record::sync::PushReply;
use record::{SignedReceipt, SoftKey, Vector, VerifiedRecord};
use std::sync::mpsc::{Receiver, Sender, channel};

/// Numbers that look like chance, the same for the same seed (Marsaglia, *Xorshift RNGs*, 2003, section 3: 13, 7, 17).
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    /// Returns a number below `most`.
    pub fn below(&mut self, most: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % most as u64).expect("below a usize")
    }

    /// Returns dice of their own for somebody else.
    pub fn throw(&mut self) -> Self {
        Self::new(self.below(usize::MAX) as u64)
    }

    pub fn is_one_in(&mut self, so_many: usize) -> bool {
        self.below(so_many) == 0
    }
}

/// What became of some rounds.
#[derive(Debug, Default)]
pub struct Outcome {
    pub rounds: u64,
    pub acknowledged: u64,
    pub lost: u64,
}

impl Outcome {
    /// Adds what became of others.
    pub fn add(&mut self, other: &Self) {
        self.rounds += other.rounds;
        self.acknowledged += other.acknowledged;
        self.lost += other.lost;
    }
}

/// A phone with its chain, and how far it is acknowledged.
#[derive(Debug)]
pub struct Phone {
    hand: Hand,
    records: Vec<VerifiedRecord>,
    acknowledged: u64,
}

impl Phone {
    pub fn enrolled(ship: &Ship) -> Self {
        Self {
            hand: Hand::enrolled(ship, "orrin", 11),
            records: Vec::new(),
            acknowledged: 0,
        }
    }

    pub fn acknowledged(&self) -> u64 {
        self.acknowledged
    }

    /// Works on: so many records more, in a run of their own.
    pub fn works(&mut self, count: usize) {
        self.records.extend(self.hand.works(count));
    }

    fn waiting(&self) -> &[VerifiedRecord] {
        &self.records[usize::try_from(self.acknowledged).expect("small")..]
    }

    /// Sends what waits until the server is gone, or all is acknowledged; tells of each receipt as it comes.
    pub fn sends(&self, url: &str, mut dice: Dice) -> Receiver<u64> {
        let (tell, told) = channel();
        let records = self.waiting().to_vec();
        let first = self.acknowledged;
        // What the link does to the connections, one after the other, before it lets them pass.
        let fates: Vec<Fate> = match dice.below(4) {
            0 => vec![Fate::CutGoing(1 + dice.below(4_000)), Fate::Refused],
            1 => vec![Fate::CutComing(dice.below(200)), Fate::Garbage],
            _ => Vec::new(),
        };
        let url = match fates.as_slice() {
            [] => url.to_owned(),
            fates => {
                let link = Link::to(url, fates);
                http::keep_session(&link.url, http::cookie_for(url));
                link.url
            }
        };
        std::thread::spawn(move || send(&url, &records, first, &mut dice, &tell));
        told
    }

    /// Takes up what was told of a round.
    pub fn heard(&mut self, told: &Receiver<u64>) {
        for seq in told {
            self.acknowledged = self.acknowledged.max(seq);
        }
    }

    /// Looks on the server for everything that was acknowledged; returns how much of it is not there as it was sent.
    pub fn lost(&self, ship: &Ship) -> u64 {
        let reply = http::have(&ship.url, vessel(), Vector::new());
        let device = self.hand.key.device();
        let height = reply.vector.get(&device).copied().unwrap_or(0);
        let there = http::pull_all(&ship.url, vessel(), 1 << 20);
        let there: std::collections::BTreeSet<&[u8]> = there.iter().map(Vec::as_slice).collect();
        let acknowledged = usize::try_from(self.acknowledged).expect("small");
        let sent = self.records[..acknowledged].iter();
        let missing =
            sent.filter(|record| record.seq() > height || !there.contains(record.bytes()));
        missing.count() as u64
    }
}

/// Looks at what the server shows; returns how many of the records that it holds it does not show.
pub fn unseen(ship: &Ship) -> u64 {
    let held = http::pull_all(&ship.url, vessel(), 1 << 20).len() as u64;
    let vessels = http::get(&format!("{}/api/v1/vessels", ship.url)).json();
    let shown = vessels[0]["records"].as_u64().expect("a number");
    held.saturating_sub(shown)
}

/// Puts a page together, with what may befall it on its way.
fn page(records: &[&VerifiedRecord], dice: &mut Dice) -> Vec<u8> {
    let mut records = records.to_vec();
    if dice.is_one_in(5) && records.len() > 1 {
        let (one, other) = (dice.below(records.len()), dice.below(records.len()));
        records.swap(one, other);
    }
    if dice.is_one_in(8) {
        let again = records[dice.below(records.len())];
        records.push(again);
    }
    let mut bytes: Vec<u8> = records
        .iter()
        .flat_map(|record| record.bytes())
        .copied()
        .collect();
    if dice.is_one_in(8) {
        bytes.truncate(dice.below(bytes.len()));
    }
    bytes
}

fn send(url: &str, records: &[VerifiedRecord], first: u64, dice: &mut Dice, tell: &Sender<u64>) {
    let authority = SoftKey::from_seed(SEED).public();
    let push = format!("{url}/api/v1/sync/push");
    let (mut done, mut failures) = (0, 0);
    while done < records.len() && failures < 4 {
        let end = records.len().min(done + 1 + dice.below(12));
        // Now and then what is known already goes along again.
        let from = if dice.is_one_in(6) { done / 2 } else { done };
        let some: Vec<&VerifiedRecord> = records[from..end].iter().collect();
        let reply = http::try_post(&push, &page(&some, dice))
            .filter(|answer| answer.status == 200)
            .and_then(|answer| PushReply::decode(&answer.body).ok());
        let Some(reply) = reply else {
            failures += 1;
            continue;
        };
        for bytes in &reply.receipts {
            let receipt = SignedReceipt::verify(bytes, &authority).expect("the ship's");
            let seq = receipt.receipt().seq;
            let place = usize::try_from(seq.saturating_sub(first)).expect("small");
            done = done.max(place);
            // Nobody may be left to hear it.
            let _ = tell.send(seq);
        }
    }
}
