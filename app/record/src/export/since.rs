//! Checks that an export only adds to what an older export, or an older signed head, had.

use super::verify::Report;
use crate::checkpoint::{Checkpoint, CheckpointFault, Restore, log_origin};
use crate::merkle::TreeHead;

/// What the older one and the newer one have to do with each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Since {
    /// The newer has all of the older, unchanged and in the same order, and so many records more.
    Extends {
        /// How many records were added.
        added: u64,
    },
    /// The older had records that the newer's log lost: its keeper declares a restore from a backup.
    Restored(Restore),
}

/// Why an export does not add to an older one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SinceFault {
    /// The older head is not signed by the log's key, or another log's.
    #[error("the older head: {0}")]
    Head(#[from] CheckpointFault),
    /// There is no telling from a run's records, or from a file without readable header.
    #[error("only a whole export shows whether it adds to an older one")]
    NotWhole,
    /// The older one is of another vessel.
    #[error("the two are of different vessels")]
    OtherVessel,
    /// Fewer records than before.
    #[error("the older one counts {earlier} records, this one holds {later}")]
    Shrunk {
        /// How many the older one counts.
        earlier: u64,
        /// How many there are now.
        later: u64,
    },
    /// Something was removed, replaced or put in between.
    #[error(
        "the first {size} records are not those of the older one: one was removed, replaced or put in between"
    )]
    Rewritten {
        /// How many the older one has.
        size: u64,
    },
}

/// What is older: a signed head as text, or the report of an older whole export.
#[derive(Debug, Clone, Copy)]
pub enum Older<'a> {
    /// A signed note.
    Head(&'a str),
    /// A checked export.
    Export(&'a Report),
}

/// Says whether the export that was checked adds to the older one and changes nothing of it.
///
/// # Errors
/// [`SinceFault`] names what is wrong.
pub fn check_since(newer: &Report, older: Older) -> Result<Since, SinceFault> {
    let header = newer.header.as_ref().filter(|header| header.run.is_none());
    let header = header.ok_or(SinceFault::NotWhole)?;
    let head = match older {
        Older::Head(note) => {
            let office = header.log.as_ref().and_then(|log| log.office);
            let place = if office.is_some() { "office" } else { "ship" };
            let origin = log_origin(place, header.vessel);
            let key = office.unwrap_or(header.authority);
            Checkpoint::verify(note, &origin, &key)?.head
        }
        Older::Export(report) => {
            let own = report.header.as_ref().filter(|own| own.run.is_none());
            if own.ok_or(SinceFault::NotWhole)?.vessel != header.vessel {
                return Err(SinceFault::OtherVessel);
            }
            let (size, root) = (report.tree.size(), report.tree.root());
            TreeHead { size, root }
        }
    };
    if newer.root_at(head.size) == Some(head.root) {
        let added = newer.tree.size() - head.size;
        return Ok(Since::Extends { added });
    }
    let restores = newer.checkpoint.iter().flat_map(|own| &own.restores);
    for restore in restores {
        if restore.kept < head.size && head.size <= restore.lost {
            return Ok(Since::Restored(*restore));
        }
    }
    let (earlier, later) = (head.size, newer.tree.size());
    if earlier > later {
        return Err(SinceFault::Shrunk { earlier, later });
    }
    Err(SinceFault::Rewritten { size: earlier })
}
