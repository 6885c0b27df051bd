//! Whether the ship's key belongs to the store beside it. A key that is gone, or another's, would begin a ship
//! without a name, and leave the records to nobody.

use crate::authority::{self, AuthorityError};
use record::{PublicKey, VesselId};
use std::path::{Path, PathBuf};
use storage::{RecordStore, StorageError};

/// The note with the vessel whose server writes this store.
const NOTE: &str = "own-vessel";

/// Why the key does not fit the store.
#[derive(Debug, thiserror::Error)]
pub enum OwnKeyError {
    /// There are records, and no key.
    #[error(
        "the ship's key {} is missing, and {store} holds records of {vessels}: with a new key they would be \
         nobody's. Put the key back: from its sealed copy with `clearhawse authority restore`, or from a backup \
         of the folder. To begin a new ship, give an empty folder and store", .path.display()
    )]
    Missing {
        /// Where the key should be.
        path: PathBuf,
        /// The store's address, without a password.
        store: String,
        /// The vessels of which there are records.
        vessels: String,
    },
    /// The key is of another vessel than the store.
    #[error(
        "the key {} is not the one that {store} was written with: it is of vessel {found} (fingerprint \
         {fingerprint}), and the store is of {belongs}. Put the right key back, or give the folder and store that \
         belong to this one", .path.display()
    )]
    Another {
        /// Where the key is.
        path: PathBuf,
        /// The store's address, without a password.
        store: String,
        /// The vessel of the key.
        found: VesselId,
        /// What people compare a key by.
        fingerprint: String,
        /// The vessel, or vessels, of the store.
        belongs: String,
    },
    /// The key cannot be read.
    #[error(transparent)]
    Authority(#[from] AuthorityError),
    /// The store cannot be read.
    #[error(transparent)]
    Storage(#[from] StorageError),
}

fn named(vessels: &[VesselId]) -> String {
    let names: Vec<String> = vessels.iter().map(ToString::to_string).collect();
    format!("vessel {}", names.join(", "))
}

async fn owner(store: &dyn RecordStore) -> Result<Option<VesselId>, StorageError> {
    let note = store.note(NOTE).await?;
    Ok(note.and_then(|bytes| VesselId::from_slice(&bytes)))
}

/// Checks that the key in `data` is the one that the store was written with; for a store without records any is,
/// and none. No passphrase is needed for it.
///
/// # Errors
/// [`OwnKeyError`] if it is another one, or missing.
pub async fn check(data: &Path, address: &str, store: &dyn RecordStore) -> Result<(), OwnKeyError> {
    let path = data.join(authority::FILE);
    let key: Option<PublicKey> = authority::read(&path)?.map(|kept| kept.public());
    let vessels = store.vessels().await?;
    let owner = owner(store).await?;
    let belongs = match owner {
        Some(owner) => named(&[owner]),
        None => named(&vessels),
    };
    let store_shown = storage::shown(address);
    let Some(key) = key else {
        if vessels.is_empty() {
            return Ok(());
        }
        return Err(OwnKeyError::Missing {
            path,
            store: store_shown,
            vessels: belongs,
        });
    };
    let fits = match owner {
        Some(owner) => owner == key.vessel(),
        // A store that was last written before this note was: each start left the key's public half.
        None => vessels.is_empty() || crate::fleet::knows_authority(store, key.vessel()).await?,
    };
    if fits || vessels.is_empty() {
        return Ok(());
    }
    Err(OwnKeyError::Another {
        path,
        store: store_shown,
        found: key.vessel(),
        fingerprint: key.fingerprint(),
        belongs,
    })
}

/// Puts down whose store it is; one that says so already is left alone.
///
/// # Errors
/// [`StorageError`] if the store fails.
pub async fn claim(store: &dyn RecordStore, vessel: VesselId) -> Result<(), StorageError> {
    if owner(store).await? == Some(vessel) {
        return Ok(());
    }
    store.set_note(NOTE, vessel.as_bytes()).await
}
