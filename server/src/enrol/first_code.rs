//! The code that the console shows while nobody is enrolled who could hand out others.

use crate::codes;
use sha2::{Digest as _, Sha256};

/// The first-contact code, by hash; good until it is used, has ended, or the server ends.
#[derive(Debug)]
pub(super) struct FirstCode {
    hash: [u8; 32],
    expires_ms: i64,
}

impl FirstCode {
    /// Takes a code up; it is good from now on.
    pub(super) fn of(code: &str, now_ms: i64) -> Self {
        Self {
            hash: Sha256::digest(code).into(),
            expires_ms: now_ms + codes::GOOD_FOR_MS,
        }
    }

    /// Says whether a code is this one, and still good.
    pub(super) fn is(&self, code: &str, now_ms: i64) -> bool {
        // What the time of comparing hashes tells of them tells nothing of the code.
        now_ms < self.expires_ms && self.hash == <[u8; 32]>::from(Sha256::digest(code))
    }
}
