//! The withdrawal of a key: which of its records stay good, and which are in doubt.

use super::asked::{Doubt, DoubtQuestion, DoubtRow, WithdrawQuestion};
use super::{CrewError, MOST_REASON_BYTES, text};
use crate::board::{self, CLOCK_TOLERANCE_MS, RunCard};
use crate::ledger::{Chain, Entry, Ledger, RunId};
use record::{DeviceId, Withdrawal};
use std::collections::BTreeMap;

/// Returns a stretch of time in the largest unit that it fills, as it stands in an error.
pub(super) fn ahead(ms: i64) -> String {
    let minutes = ms / 60_000;
    match (minutes / 60, minutes / (24 * 60)) {
        (0, _) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (_, days) => format!("{days} days"),
    }
}

/// How far the records of a key are from before a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Before {
    /// Up to here by the server's clock: they were here by then.
    received: u64,
    /// Up to here by the device's own clock, which whoever has it can set.
    made: u64,
}

/// Both end at the first record of that time or later: one behind it with an earlier time does not count.
fn before(ledger: &Ledger, device: DeviceId, from_ms: i64) -> Before {
    let mut before = Before {
        received: 0,
        made: 0,
    };
    let chain = ledger.chains().get(&device);
    for (seq, id) in chain.into_iter().flat_map(Chain::iter) {
        if ledger.made_ms(id).is_none_or(|made_ms| made_ms >= from_ms) {
            break;
        }
        before.made = seq;
        let received_ms = ledger.received_ms(id);
        if before.received + 1 == seq && received_ms.is_some_and(|at| at < from_ms) {
            before.received = seq;
        }
    }
    before
}

fn moment(from_ms: Option<i64>, now_ms: i64) -> Result<i64, CrewError> {
    // A key that is to be withdrawn one day may not count for less until then, and one that may still be
    // used must not be shown as withdrawn: there is no such state.
    let from_ms = from_ms.unwrap_or(now_ms);
    let ahead_ms = from_ms.saturating_sub(now_ms);
    if ahead_ms > CLOCK_TOLERANCE_MS {
        return Err(CrewError::InFuture(ahead_ms));
    }
    Ok(from_ms.min(now_ms).max(0))
}

fn speaks(ledger: &Ledger, device: DeviceId) -> Result<(), CrewError> {
    if !ledger.holders().contains_key(&device) {
        return Err(CrewError::NoDevice(device));
    }
    if ledger.withdrawal(device).is_some() {
        return Err(CrewError::Withdrawn(device));
    }
    Ok(())
}

/// Names the runs that are put away and hold something of what [`doubt`] shows, which wants them here.
pub fn wanted_for_doubt(ledger: &Ledger, question: &DoubtQuestion, now_ms: i64) -> Vec<RunId> {
    let Ok(from_ms) = moment(question.from_ms, now_ms) else {
        return Vec::new();
    };
    let before = before(ledger, question.device, from_ms);
    let runs = ledger.away_of_chain(question.device, before.received, before.made);
    runs.into_iter().collect()
}

/// Returns what would be in doubt of a key that is withdrawn from `from_ms` on: records that came in after that
/// time and say that they are older. A phone that was out of range makes such, and so does whoever sets its clock.
///
/// # Errors
/// [`CrewError`] if no such key is enrolled, it is withdrawn already, or the time is still to come.
pub fn doubt(
    ledger: &Ledger,
    device: DeviceId,
    from_ms: Option<i64>,
    now_ms: i64,
) -> Result<Doubt, CrewError> {
    let from_ms = moment(from_ms, now_ms)?;
    speaks(ledger, device)?;
    let before = before(ledger, device, from_ms);
    let chain = ledger.chains().get(&device);
    let chain = chain.into_iter().flat_map(Chain::iter);
    let mut cards: BTreeMap<RunId, Option<RunCard>> = BTreeMap::new();
    let row = |entry: &Entry| {
        let run = entry.record.run().unwrap_or(entry.record.id());
        let card = cards
            .entry(run)
            .or_insert_with(|| board::run_card(ledger, run, now_ms));
        let says = board::says(card.as_ref(), entry);
        DoubtRow {
            seq: entry.record.seq(),
            time_ms: entry.record.time_ms(),
            received_ms: entry.received_ms,
            says: match card {
                Some(card) => format!("{}: {says}", card.title),
                None => says,
            },
        }
    };
    let records = chain
        .filter(|(seq, _)| before.received < *seq && *seq <= before.made)
        .filter_map(|(_, id)| ledger.entry(id))
        .map(row)
        .collect();
    Ok(Doubt {
        from_ms,
        certain_seq: before.received,
        records,
    })
}

/// Makes the withdrawal of a key that a master asks for at `now_ms`. What was here of it by the time from which it is withdrawn stays good, and of
/// what came in later and says that it is older as much as the master vouches for, which is up to `keep_seq`. What
/// comes in from now on does not count, whatever time it bears, because whoever has the key can write any time.
///
/// # Errors
/// [`CrewError`] if no such key is enrolled, it is withdrawn already, the time is still to come, more is to be kept
/// than is from before it, or the reason is missing or too long.
pub fn withdrawal(
    ledger: &Ledger,
    question: &WithdrawQuestion,
    now_ms: i64,
) -> Result<Withdrawal, CrewError> {
    let device = question.device;
    let from_ms = moment(question.from_ms, now_ms)?;
    speaks(ledger, device)?;
    let reason = text("reason", &question.reason, MOST_REASON_BYTES)?;
    let before = before(ledger, device, from_ms);
    if let Some(asked) = question.keep_seq.filter(|asked| *asked > before.made) {
        let most = before.made;
        return Err(CrewError::NotBefore { asked, most });
    }
    Ok(Withdrawal {
        device,
        from_ms,
        last_seq: question.keep_seq.unwrap_or(0).max(before.received),
        reason,
    })
}
