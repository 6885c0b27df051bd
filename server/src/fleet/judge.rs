//! Judging a page: which of its records are good, which are not, and why.
//!
//! Nearly all of the work is checking signatures, so that is spread over the processor's cores and done
//! before anything waits for its turn to be stored.

use journal::Ledger;
use record::sync::{Rejected, Sequence, Stop};
use record::{
    DeviceId, Envelope, KIND_CREDENTIAL, PublicKey, Refusal, SignedCredential, VerifiedRecord,
    VesselId,
};
use std::collections::BTreeMap;
use std::sync::Arc;
use tokio::sync::RwLock;

/// Fewer items than this are not worth a second thread.
const WORTH_A_THREAD: usize = 32;

/// A page, judged.
#[derive(Debug, Default)]
pub(super) struct Judged {
    /// What is good, with its place in the page.
    pub good: Vec<(u64, VerifiedRecord)>,
    /// What is not, as the sender is told.
    pub rejected: Vec<Rejected>,
    /// What is kept to be looked at: the bytes, whose they seem to be, the reason.
    pub set_aside: Vec<(Vec<u8>, Option<VesselId>, String)>,
    /// Where the page was cut.
    pub cut_at: Option<u64>,
}

/// A well-formed record on its way through the judging.
#[derive(Debug, Clone)]
struct Candidate {
    position: u64,
    envelope: Envelope,
    key: Option<PublicKey>,
}

/// Judges a page by the keys that the ledgers and the page's own credentials vouch for.
pub(super) async fn judge(ledgers: &RwLock<BTreeMap<VesselId, Ledger>>, page: &[u8]) -> Judged {
    let page: Arc<[u8]> = page.into();
    let mut judged = Judged::default();
    let mut candidates = read(&page, &mut judged).await;
    let authorities: BTreeMap<VesselId, PublicKey> = {
        let ledgers = ledgers.read().await;
        candidates.retain_mut(|candidate| {
            let vessel = candidate.envelope.vessel();
            if let Some(ledger) = ledgers.get(&vessel) {
                candidate.key = ledger.key_of(candidate.envelope.device());
                if let Some(seq) = frozen_at(ledger, &candidate.envelope) {
                    judged.freeze(candidate, seq);
                    return false;
                }
                return true;
            }
            judged.reject(candidate, format!("vessel {vessel} is not known here"));
            false
        });
        let authority = |(vessel, ledger): (&VesselId, &Ledger)| (*vessel, ledger.authority());
        ledgers.iter().map(authority).collect()
    };
    let (known, mut unknown): (Vec<_>, Vec<_>) = candidates
        .into_iter()
        .partition(|candidate| candidate.key.is_some());
    judged.check(known).await;
    if !unknown.is_empty() {
        // A credential may come in the same page as the records that it vouches for.
        let vouched = vouched(&judged.good, &authorities);
        for candidate in &mut unknown {
            candidate.key = vouched.get(&candidate.envelope.device()).copied();
        }
        judged.check(unknown).await;
        judged.good.sort_unstable_by_key(|(position, _)| *position);
    }
    judged.rejected.sort_by_key(|rejected| rejected.position);
    judged
}

/// Returns the number that a key has used twice, if this new record comes after it: such a key speaks no
/// more until its person enrols again. What is here already stays here.
fn frozen_at(ledger: &Ledger, envelope: &Envelope) -> Option<u64> {
    let device = envelope.device();
    let (_, seq) = ledger
        .forks()
        .range((device, 0)..=(device, u64::MAX))
        .next()?;
    let is_new = envelope.seq() > *seq && !ledger.holds(envelope.id());
    is_new.then_some(*seq)
}

/// Returns the keys that the authority's credentials among the records vouch for.
fn vouched(
    records: &[(u64, VerifiedRecord)],
    authorities: &BTreeMap<VesselId, PublicKey>,
) -> BTreeMap<DeviceId, PublicKey> {
    records
        .iter()
        .filter(|(_, record)| record.kind() == KIND_CREDENTIAL)
        .filter_map(|(_, record)| {
            let authority = authorities.get(&record.vessel())?;
            let signed = SignedCredential::verify(record.body(), authority).ok()?;
            let key = signed.credential().key;
            (record.device() == authority.device()).then_some((key.device(), key))
        })
        .collect()
}

/// Takes the page apart and reads each record.
async fn read(page: &Arc<[u8]>, judged: &mut Judged) -> Vec<Candidate> {
    let mut sequence = Sequence::new(page);
    let spans: Vec<(usize, usize)> = sequence
        .by_ref()
        .map(|item| (item.at, item.at + item.bytes.len()))
        .collect();
    judged.cut_at = match sequence.stop() {
        Some(Stop::Whole) | None => None,
        Some(_) => u64::try_from(sequence.at()).ok(),
    };
    let shared = Arc::clone(page);
    let wanted = spans.clone();
    let read = on_all_cores(wanted, move |(from, to)| {
        Envelope::decode(&shared[*from..*to])
    });
    let mut candidates = Vec::with_capacity(spans.len());
    for ((position, (from, to)), answer) in (0_u64..).zip(spans).zip(read.await) {
        match answer {
            Ok(envelope) => candidates.push(Candidate {
                position,
                envelope,
                key: None,
            }),
            Err(refusal) => {
                let reason = refusal.to_string();
                judged
                    .set_aside
                    .push((page[from..to].to_vec(), None, reason.clone()));
                judged.rejected.push(Rejected {
                    position,
                    id: None,
                    reason,
                });
            }
        }
    }
    candidates
}

impl Judged {
    /// Refuses what is of another vessel than the sender's.
    pub fn keep_only(&mut self, vessel: VesselId) {
        let (good, others): (Vec<_>, Vec<_>) = std::mem::take(&mut self.good)
            .into_iter()
            .partition(|(_, record)| record.vessel() == vessel);
        self.good = good;
        self.rejected
            .extend(others.into_iter().map(|(position, record)| Rejected {
                position,
                id: Some(record.id()),
                reason: format!(
                    "the record is of vessel {}, and its sender of {vessel}",
                    record.vessel()
                ),
            }));
        self.rejected.sort_by_key(|rejected| rejected.position);
    }

    /// Sets a record of a frozen key aside: kept, told, and not counted.
    fn freeze(&mut self, candidate: &Candidate, seq: u64) {
        let reason = format!(
            "device {} has used number {seq} twice: its key is frozen, and its person enrols again",
            candidate.envelope.device()
        );
        self.set_aside.push((
            candidate.envelope.bytes().to_vec(),
            Some(candidate.envelope.vessel()),
            reason.clone(),
        ));
        self.reject(candidate, reason);
    }

    fn reject(&mut self, candidate: &Candidate, reason: String) {
        self.rejected.push(Rejected {
            position: candidate.position,
            id: Some(candidate.envelope.id()),
            reason,
        });
    }

    /// Checks the signatures of those that have a key.
    async fn check(&mut self, candidates: Vec<Candidate>) {
        let answers = on_all_cores(candidates.clone(), |candidate: &Candidate| {
            let key = candidate.key?;
            Some(candidate.envelope.verify(&key))
        });
        for (candidate, answer) in candidates.iter().zip(answers.await) {
            self.sort_in(candidate, answer);
        }
    }

    fn sort_in(&mut self, candidate: &Candidate, answer: Option<Result<VerifiedRecord, Refusal>>) {
        let envelope = &candidate.envelope;
        match answer {
            Some(Ok(record)) => self.good.push((candidate.position, record)),
            Some(Err(refusal)) => {
                let reason = refusal.to_string();
                self.set_aside.push((
                    envelope.bytes().to_vec(),
                    Some(envelope.vessel()),
                    reason.clone(),
                ));
                self.reject(candidate, reason);
            }
            None => {
                let device = envelope.device();
                self.reject(
                    candidate,
                    format!("no credential vouches for device {device} yet"),
                );
            }
        }
    }
}

/// Does `work` for each item, on as many threads as there are cores, away from the threads that serve.
async fn on_all_cores<T, R>(items: Vec<T>, work: impl Fn(&T) -> R + Send + Sync + 'static) -> Vec<R>
where
    T: Send + Sync + 'static,
    R: Send + 'static,
{
    if items.is_empty() {
        return Vec::new();
    }
    let done = tokio::task::spawn_blocking(move || {
        let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        let share = items.len().div_ceil(cores).max(WORTH_A_THREAD);
        let work = &work;
        let mut shares = items.chunks(share);
        let Some(own) = shares.next() else {
            return Vec::new();
        };
        std::thread::scope(|scope| {
            let others: Vec<_> = shares
                .map(|share| scope.spawn(move || share.iter().map(work).collect::<Vec<R>>()))
                .collect();
            let mut answers: Vec<R> = own.iter().map(work).collect();
            for other in others {
                match other.join() {
                    Ok(more) => answers.extend(more),
                    Err(panic) => std::panic::resume_unwind(panic),
                }
            }
            answers
        })
    });
    match done.await {
        Ok(answers) => answers,
        Err(error) => std::panic::resume_unwind(error.into_panic()),
    }
}
