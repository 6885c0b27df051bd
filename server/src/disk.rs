//! What the system says when it lets nobody write: a disk that is full, a folder that may only be read.

use std::io::{self, ErrorKind};

/// Says whether an error is of a place that cannot be written to now, and may be read all the same.
pub fn is_out_of_reach(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        ErrorKind::PermissionDenied
            | ErrorKind::ReadOnlyFilesystem
            | ErrorKind::StorageFull
            | ErrorKind::QuotaExceeded
            | ErrorKind::FileTooLarge
    )
}
