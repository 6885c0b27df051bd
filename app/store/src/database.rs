//! Opening the database, and opening it again when the browser has lost it.

use crate::schema;
use indexed_db_futures::database::Database;
use indexed_db_futures::error::{DomException, Error};
use indexed_db_futures::internals::SystemRepr as _;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::Transaction;
use journal::port::StoreError;
use std::cell::RefCell;
use std::rc::Rc;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;

/// The database cannot be opened.
#[derive(Debug, Clone, thiserror::Error)]
#[error("this browser's storage cannot be opened: {0}")]
pub struct OpenError(pub String);

/// The phone's store. Cheap to clone; all clones share one connection.
#[derive(Clone)]
pub struct BrowserStore {
    connection: Rc<RefCell<Option<Rc<Database>>>>,
}

impl std::fmt::Debug for BrowserStore {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("BrowserStore").finish_non_exhaustive()
    }
}

async fn open() -> Result<Database, OpenError> {
    let database = Database::open(schema::NAME)
        .with_version(schema::VERSION)
        .with_on_upgrade_needed(|_, database| {
            let there: Vec<String> = database.object_store_names().collect();
            for name in schema::missing(&there) {
                database.create_object_store(name).build()?;
            }
            Ok(())
        })
        .await
        .map_err(|error| OpenError(error.to_string()))?;
    // A tab with a later version must not wait for this one: it goes on with a connection opened again.
    let connection = database.as_sys().clone();
    let give_way = Closure::once_into_js(move || connection.close());
    database
        .as_sys()
        .set_onversionchange(Some(give_way.unchecked_ref()));
    Ok(database)
}

impl BrowserStore {
    /// Opens the store, making it on first use.
    ///
    /// # Errors
    /// [`OpenError`] if the browser refuses, as in some private windows.
    pub async fn open() -> Result<Self, OpenError> {
        let database = open().await?;
        Ok(Self {
            connection: Rc::new(RefCell::new(Some(Rc::new(database)))),
        })
    }

    /// Returns the connection, opened again if it was dropped after a failure.
    pub(crate) async fn connection(&self) -> Result<Rc<Database>, StoreError> {
        let held = self.connection.borrow().clone();
        if let Some(database) = held {
            return Ok(database);
        }
        let database = Rc::new(
            open()
                .await
                .map_err(|error| StoreError::Failed(error.to_string()))?,
        );
        *self.connection.borrow_mut() = Some(Rc::clone(&database));
        Ok(database)
    }

    /// Runs `work`; where the browser has lost the connection (as it may after the phone slept), opens
    /// it again and runs it once more.
    pub(crate) async fn with<T>(
        &self,
        work: impl AsyncFn(&Database) -> Result<T, Error>,
    ) -> Result<T, StoreError> {
        let database = self.connection().await?;
        match work(&database).await {
            Ok(value) => Ok(value),
            Err(error) if is_lost(&error) => {
                *self.connection.borrow_mut() = None;
                drop(database);
                let database = self.connection().await?;
                work(&database).await.map_err(|error| store_error(&error))
            }
            Err(error) => Err(store_error(&error)),
        }
    }
}

/// Commits; where the browser gives the transaction up, says why. A disk that is full is told by the
/// transaction alone: neither a request nor the wait for its end says more than 'aborted'.
pub(crate) async fn commit(transaction: Transaction<'_>) -> Result<(), Error> {
    let kept = transaction.as_sys().clone();
    match transaction.commit().await {
        Ok(()) => Ok(()),
        Err(error) => Err(kept.error().map_or(error, Error::from)),
    }
}

fn is_lost(error: &Error) -> bool {
    match error {
        Error::DomException(DomException::InvalidStateError(_)) => true,
        Error::DomException(DomException::Other(other)) => other.name() == "UnknownError",
        _ => false,
    }
}

pub(crate) fn store_error(error: &Error) -> StoreError {
    let name = match error {
        Error::DomException(exception) => {
            let js: &wasm_bindgen::JsValue = exception.as_ref();
            js_sys::Reflect::get(js, &"name".into())
                .ok()
                .and_then(|name| name.as_string())
        }
        _ => None,
    };
    match name.as_deref() {
        Some("QuotaExceededError") => StoreError::Full,
        Some(name) => StoreError::Failed(format!("{name}: {error}")),
        None => StoreError::Failed(error.to_string()),
    }
}
