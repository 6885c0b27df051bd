//! Connections that are made again when the server behind them restarts.

use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::Duration;

use tokio::sync::{Mutex, MutexGuard};
use tokio_postgres::types::ToSql;
use tokio_postgres::{Client, Config, NoTls, Row, Statement};

use super::fault;
use crate::StorageError;

/// How long a connection may take to stand, where its address does not say.
const CONNECT: Duration = Duration::from_secs(10);
/// How long a database that was reached over a network may not have acknowledged a byte, and how long after the last
/// byte it is asked whether it lives: one that went away without a word would be waited for, for hours.
const SILENCE: Duration = Duration::from_secs(30);

/// How many statements may run at once beside the writer's.
const READERS: usize = 4;

/// Gives up on a database that has gone away without a word, as soon as the address allows.
pub(super) fn impatient(mut config: Config) -> Config {
    if config.get_connect_timeout().is_none() {
        config.connect_timeout(CONNECT);
    }
    if config.get_tcp_user_timeout().is_none() {
        config.tcp_user_timeout(SILENCE);
    }
    config.keepalives_idle(config.get_keepalives_idle().min(SILENCE));
    config
}

/// One connection and the statements that it has prepared.
#[derive(Debug)]
pub(super) struct Connection {
    pub(super) client: Client,
    statements: HashMap<&'static str, Statement>,
}

impl Connection {
    pub(super) async fn open(config: &Config) -> Result<Self, StorageError> {
        let (client, connection) = config.connect(NoTls).await.map_err(fault)?;
        tokio::spawn(async move {
            if let Err(error) = connection.await {
                tracing::warn!(%error, "the connection to PostgreSQL ended");
            }
        });
        Ok(Self {
            client,
            statements: HashMap::new(),
        })
    }

    /// Returns the statement, prepared at its first use.
    pub(super) async fn prepared(
        &mut self,
        sql: &'static str,
    ) -> Result<Statement, tokio_postgres::Error> {
        if let Some(statement) = self.statements.get(sql) {
            return Ok(statement.clone());
        }
        let statement = self.client.prepare(sql).await?;
        self.statements.insert(sql, statement.clone());
        Ok(statement)
    }

    async fn query(
        &mut self,
        sql: &'static str,
        params: &[&(dyn ToSql + Sync)],
    ) -> Result<Vec<Row>, tokio_postgres::Error> {
        let statement = self.prepared(sql).await?;
        self.client.query(&statement, params).await
    }
}

/// A few connections, made when first needed.
#[derive(Debug)]
pub(super) struct Pool {
    config: Config,
    slots: [Mutex<Option<Connection>>; READERS],
    next: AtomicUsize,
    is_closed: AtomicBool,
}

impl Pool {
    pub(super) fn new(config: Config) -> Self {
        Self {
            config,
            slots: Default::default(),
            next: AtomicUsize::new(0),
            is_closed: AtomicBool::new(false),
        }
    }

    /// Runs one statement that may be run twice without harm: over a connection that has died, it
    /// is run again over a new one.
    pub(super) async fn query(
        &self,
        sql: &'static str,
        params: &[&(dyn ToSql + Sync)],
    ) -> Result<Vec<Row>, StorageError> {
        let mut slot = self.slot().await?;
        if let Some(connection) = slot.as_mut() {
            match connection.query(sql, params).await {
                Err(error) if error.is_closed() || connection.client.is_closed() => {}
                result => return result.map_err(fault),
            }
        }
        let mut connection = Connection::open(&self.config).await?;
        let result = connection.query(sql, params).await.map_err(fault);
        *slot = Some(connection);
        result
    }

    /// Later statements answer [`StorageError::Closed`]; connections end with the pool.
    pub(super) fn close(&self) {
        self.is_closed.store(true, Ordering::Release);
    }

    async fn slot(&self) -> Result<MutexGuard<'_, Option<Connection>>, StorageError> {
        if self.is_closed.load(Ordering::Acquire) {
            return Err(StorageError::Closed);
        }
        if let Some(free) = self.slots.iter().find_map(|slot| slot.try_lock().ok()) {
            return Ok(free);
        }
        let turn = self.next.fetch_add(1, Ordering::Relaxed);
        Ok(self.slots[turn % READERS].lock().await)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn database_that_went_away_without_a_word_is_given_up_and_the_address_may_say_when() {
        let config = |address: &str| impatient(address.parse().unwrap());
        let plain = config("postgres://office@host/records");
        assert_eq!(plain.get_connect_timeout(), Some(&CONNECT));
        assert_eq!(plain.get_tcp_user_timeout(), Some(&SILENCE));
        assert_eq!(plain.get_keepalives_idle(), SILENCE);
        let told = config(
            "postgres://office@host/records?connect_timeout=3&tcp_user_timeout=7&keepalives_idle=11",
        );
        assert_eq!(told.get_connect_timeout(), Some(&Duration::from_secs(3)));
        assert_eq!(told.get_tcp_user_timeout(), Some(&Duration::from_secs(7)));
        assert_eq!(told.get_keepalives_idle(), Duration::from_secs(11));
    }
}
