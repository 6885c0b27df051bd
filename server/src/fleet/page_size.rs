//! How large a page of records may be.

use super::FleetError;
use record::sync::{MAX_PAGE_BYTES, MAX_PAGE_RECORDS, Sequence};

/// What a page has too much of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TooMuch {
    /// Bytes, and how many.
    Bytes(usize),
    /// Records: more than the bound; they are not counted to the end.
    Records,
}

impl std::fmt::Display for TooMuch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Bytes(bytes) => write!(f, "{bytes} bytes"),
            Self::Records => f.write_str("more records"),
        }
    }
}

/// Refuses a page that is larger than a page may be, before anything of it is kept or judged: what a
/// stranger to the protocol sends may cost no more than reading it once.
///
/// # Errors
/// [`FleetError::TooLarge`] with what it has too much of.
pub(super) fn check_page(page: &[u8]) -> Result<(), FleetError> {
    let found = if page.len() > MAX_PAGE_BYTES {
        TooMuch::Bytes(page.len())
    } else if Sequence::new(page).nth(MAX_PAGE_RECORDS).is_some() {
        TooMuch::Records
    } else {
        return Ok(());
    };
    Err(FleetError::TooLarge { found })
}
