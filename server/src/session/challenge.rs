//! Challenges: what a key signs to show that it is there now. None is kept until it has been answered.

use super::{SessionError, lock};
use crate::authority::{AuthorityError, random_seed};
use hmac::{Hmac, KeyInit as _, Mac as _};
use journal::auth_messages::Challenge;
use record::PublicKey;
use sha2::Sha256;
use std::collections::BTreeMap;
use std::sync::Mutex;

/// How long a challenge may be answered, ms.
pub(super) const CHALLENGE_MS: i64 = 2 * 60_000;

/// What a challenge is good for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Purpose {
    /// To open a session.
    Session,
    /// To sign one request of this session.
    Act([u8; 32]),
}

/// Makes challenges and takes each back once.
#[derive(Debug)]
pub(super) struct Challenges {
    secret: [u8; 32],
    answered: Mutex<BTreeMap<i64, Vec<String>>>,
}

impl Challenges {
    /// Challenges under a secret of this server's life.
    pub(super) fn new(secret: [u8; 32]) -> Self {
        let answered = Mutex::default();
        Self { secret, answered }
    }

    fn stamp(&self, front: &[u8], purpose: Purpose) -> Hmac<Sha256> {
        let mut mac = Hmac::<Sha256>::new_from_slice(&self.secret)
            .expect("invariant: a key of any length will do");
        mac.update(front);
        if let Purpose::Act(session) = purpose {
            mac.update(b"act");
            mac.update(&session);
        }
        mac
    }

    /// Makes a challenge. It is not kept: its own stamp says that it is ours, what for, and until when.
    pub(super) fn make(
        &self,
        server: &PublicKey,
        purpose: Purpose,
        now: i64,
    ) -> Result<Challenge, AuthorityError> {
        let mut bytes = random_seed()?[..16].to_vec();
        bytes.extend((now + CHALLENGE_MS).to_be_bytes());
        let stamp = self.stamp(&bytes, purpose).finalize().into_bytes();
        bytes.extend(stamp);
        Ok(Challenge {
            challenge: record::hex::encode(&bytes),
            server: record::hex::encode(server.as_bytes()),
        })
    }

    /// Returns how many answered challenges are remembered.
    #[cfg(test)]
    pub(super) fn remembered(&self) -> usize {
        lock(&self.answered).values().map(Vec::len).sum()
    }

    /// Takes a challenge back: for what it was made, once, and in time.
    pub(super) fn redeem(
        &self,
        challenge: &str,
        purpose: Purpose,
        now: i64,
    ) -> Result<(), SessionError> {
        let bytes = record::hex::decode(challenge).ok_or(SessionError::Challenge)?;
        let (front, stamp) = bytes.split_at_checked(24).ok_or(SessionError::Challenge)?;
        self.stamp(front, purpose)
            .verify_slice(stamp)
            .map_err(|_| SessionError::Challenge)?;
        let until: [u8; 8] = front[16..]
            .try_into()
            .map_err(|_| SessionError::Challenge)?;
        let until = i64::from_be_bytes(until);
        if now > until {
            return Err(SessionError::Challenge);
        }
        let mut answered = lock(&self.answered);
        answered.retain(|until, _| *until >= now);
        let of_that_time = answered.entry(until).or_default();
        let name = challenge.to_ascii_lowercase();
        if of_that_time.contains(&name) {
            return Err(SessionError::Challenge);
        }
        of_that_time.push(name);
        Ok(())
    }
}
