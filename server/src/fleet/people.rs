//! Who the keys belong to, and what their holders may do.

use super::{Fleet, FleetError};
use crate::session::Who;
use journal::access::Permission;
use journal::crew::CrewPage;
use journal::ledger::Chain;
use journal::{Body, Ledger};
use record::{DeviceId, PublicKey, VesselId};
use tokio::sync::MutexGuard;

/// Why a key may not speak, or not yet.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{words}")]
pub struct NotHeld {
    /// In words.
    pub words: String,
    /// The signed record that withdrew it, where one did.
    pub withdrawal: Option<Vec<u8>>,
}

impl NotHeld {
    /// Makes one of words alone.
    pub fn because(words: impl Into<String>) -> Self {
        Self {
            words: words.into(),
            withdrawal: None,
        }
    }
}

/// Returns the authority's record that carries a withdrawal.
fn withdrawal_record(ledger: &Ledger, gone: &record::Withdrawal) -> Option<Vec<u8>> {
    let chain = ledger.chains().get(&ledger.authority().device())?;
    let mut records = chain
        .iter()
        .filter_map(|(_, id)| Some(&ledger.entry(id)?.record));
    let carries = |record: &&record::VerifiedRecord| matches!(Body::decode(record.kind(), record.body()), Ok(Body::Withdrawal(found)) if found == *gone);
    records.find(carries).map(|record| record.bytes().to_vec())
}

impl Fleet {
    /// Returns the key of that name and the vessel whose authority vouches for it, this server's own before
    /// another; an authority vouches for itself.
    pub async fn key_of(&self, device: DeviceId) -> Option<(VesselId, PublicKey)> {
        let ledgers = self.ledgers.read().await;
        let own = self.own_vessel().and_then(|own| ledgers.get(&own));
        own.into_iter()
            .chain(ledgers.values())
            .find_map(|ledger| Some((ledger.vessel(), ledger.key_of(device)?)))
    }

    /// Says whether no authority here vouches for that key, or ever did.
    pub async fn is_free(&self, device: DeviceId) -> bool {
        self.key_of(device).await.is_none()
    }

    /// Says whether that key is vouched for as this person's of this server's own people, and not withdrawn.
    pub async fn speaks_for(&self, device: DeviceId, person: &str) -> bool {
        let Some(own) = self.own_vessel() else {
            return false;
        };
        let is_theirs = |ledger: &Ledger| {
            let holder = ledger.holders().get(&device);
            holder.is_some_and(|holder| holder.credential.person.as_str() == person)
                && ledger.withdrawal(device).is_none()
        };
        self.with(own, is_theirs).await.unwrap_or(false)
    }

    /// Waits for its turn to change the crew.
    pub async fn muster(&self) -> MutexGuard<'_, ()> {
        self.musters.lock().await
    }

    /// Says whether a key of this server's own people speaks whose roles allow `permission`.
    pub async fn has_somebody_who_may(&self, permission: Permission, now_ms: i64) -> bool {
        let Some(own) = self.own_vessel() else {
            return false;
        };
        let can = |ledger: &Ledger| {
            ledger.holders().values().any(|holder| {
                let roles = journal::roles_from_words(&holder.credential.roles);
                journal::access::has_permission(roles, permission)
                    && holder.credential.check_time(now_ms).is_ok()
                    && ledger.withdrawal(holder.key.device()).is_none()
            })
        };
        self.with(own, can).await.unwrap_or(false)
    }

    /// Makes the crew's page of this server's own vessel.
    ///
    /// # Errors
    /// [`FleetError`] if this server has none.
    pub async fn crew(&self) -> Result<CrewPage, FleetError> {
        let own = self.own_vessel().ok_or(FleetError::NoShip)?;
        let heard = self.heard();
        self.with(own, |ledger| journal::crew::page(ledger, &heard))
            .await
    }

    /// Says whose a key is and what they may do at `now_ms`, by this server's clock.
    ///
    /// # Errors
    /// [`NotHeld`], if nobody vouches for it, it is withdrawn, or its credential has not begun or has ended.
    pub async fn who_holds(
        &self,
        vessel: VesselId,
        device: DeviceId,
        now_ms: i64,
    ) -> Result<Who, NotHeld> {
        let ledgers = self.ledgers.read().await;
        let ledger = ledgers
            .get(&vessel)
            .ok_or_else(|| NotHeld::because("this vessel is not here"))?;
        if device == ledger.authority().device() {
            return Ok(Who::Ship);
        }
        let holder = ledger
            .holders()
            .get(&device)
            .ok_or_else(|| NotHeld::because("nobody vouches for it"))?;
        if let Some(gone) = ledger.withdrawal(device) {
            return Err(NotHeld {
                words: format!("this device was withdrawn: {}", gone.reason),
                withdrawal: withdrawal_record(ledger, gone),
            });
        }
        let credential = &holder.credential;
        match credential.check_time(now_ms) {
            Err(record::Refusal::NotYetValid { .. }) => {
                return Err(NotHeld::because(
                    "this device's credential has not begun yet",
                ));
            }
            Err(_) => {
                return Err(NotHeld::because(
                    "this device's credential has ended: enrol again",
                ));
            }
            Ok(()) => {}
        }
        Ok(Who::Person {
            id: credential.person.to_string(),
            roles: journal::roles_from_words(&credential.roles),
        })
    }

    /// Returns what a device is told before anyone is enrolled on it.
    pub async fn ship_card(&self) -> Option<journal::auth_messages::ShipCard> {
        let own = self.own.as_ref()?.public();
        self.with(own.vessel(), |ledger| {
            let body = ledger.particulars();
            journal::auth_messages::ShipCard {
                vessel: own.vessel(),
                name: body.map(|body| body.name.clone()).unwrap_or_default(),
                authority: record::hex::encode(own.as_bytes()),
                crew: body.map(|body| body.crew.clone()).unwrap_or_default(),
            }
        })
        .await
        .ok()
    }

    /// Returns the authority's own records, as they were signed.
    ///
    /// # Errors
    /// [`FleetError::NoShip`] ashore.
    pub async fn authority_records(&self) -> Result<Vec<Vec<u8>>, FleetError> {
        let own = self.own.as_ref().ok_or(FleetError::NoShip)?.public();
        self.with(own.vessel(), |ledger| {
            let chain = ledger.chains().get(&own.device());
            chain
                .into_iter()
                .flat_map(Chain::iter)
                .filter_map(|(_, id)| ledger.entry(id))
                .map(|entry| entry.record.bytes().to_vec())
                .collect()
        })
        .await
    }
}
