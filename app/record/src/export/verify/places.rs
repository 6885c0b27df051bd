//! Whether an export's records stand in the log whose head it carries.

use super::{Name, Report, What};
use crate::checkpoint::{Checkpoint, log_origin};
use crate::export::{Header, Inclusion};
use crate::merkle::{Hash, verify_inclusion};

/// Checks the head's signature, and that the file's records lead to it.
pub(super) fn judge_checkpoint(
    note: &str,
    header: &Header,
    leaves: &[(Name, Option<Hash>)],
    name: Name,
    report: &mut Report,
) {
    let office = header.log.as_ref().and_then(|log| log.office);
    let place = if office.is_some() { "office" } else { "ship" };
    let origin = log_origin(place, header.vessel);
    let key = office.unwrap_or(header.authority);
    let checkpoint = match Checkpoint::verify(note, &origin, &key) {
        Ok(checkpoint) => checkpoint,
        Err(fault) => return report.fault(name, fault),
    };
    let inclusions = header.log.as_ref().map_or(&[][..], |log| &log.inclusions);
    if header.run.is_some() || !inclusions.is_empty() {
        judge_places(&checkpoint, inclusions, leaves, name, report);
    } else if checkpoint.head.size != report.tree.size() {
        let (size, records) = (checkpoint.head.size, report.tree.size());
        report.fault(name, What::CheckpointSize { size, records });
    } else if checkpoint.head.root != report.tree.root() {
        report.fault(name, What::CheckpointRoot);
    }
    report.checkpoint = Some(checkpoint);
}

/// Checks for each record that it stands in the log where the file says.
fn judge_places(
    checkpoint: &Checkpoint,
    inclusions: &[Inclusion],
    leaves: &[(Name, Option<Hash>)],
    name: Name,
    report: &mut Report,
) {
    if inclusions.len() != leaves.len() {
        let (proofs, records) = (inclusions.len() as u64, leaves.len() as u64);
        report.fault(name, What::ProofCount { proofs, records });
        return;
    }
    let head = checkpoint.head;
    for ((name, leaf), place) in leaves.iter().zip(inclusions) {
        // What is no record is a fault already.
        let Some(leaf) = leaf else { continue };
        let checked = verify_inclusion(leaf, place.leaf, head.size, &place.path, &head.root);
        if let Err(fault) = checked {
            report.fault(name.clone(), fault);
        }
    }
}
