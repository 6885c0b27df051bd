//! Opens the file: pragmas, whose it is, migrations.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};

use super::{fault, log, quarantine};
use crate::StorageError;

/// `CLWH`, in the file's header, so that nobody takes it for another program's.
const APPLICATION_ID: i64 = 0x434c_5748;
const PATIENCE: Duration = Duration::from_secs(10);

/// Forward only; number 1 first. A file's `user_version` counts those applied.
pub(super) const MIGRATIONS: &[&str] = &[
    include_str!("../../migrations/sqlite/0001_records.sql"),
    include_str!("../../migrations/sqlite/0002_log.sql"),
    include_str!("../../migrations/sqlite/0003_quarantine.sql"),
    include_str!("../../migrations/sqlite/0004_kept_runs.sql"),
];

/// Opens the file for the one writer, makes it if there is none, and brings it up to date.
pub(super) fn open_for_writing(path: &Path) -> Result<Connection, StorageError> {
    for_owner_alone(path);
    let mut connection = Connection::open(path).map_err(unopened)?;
    prepare(&connection)?;
    check_owner(&connection)?;
    connection
        .pragma_update(None, "journal_mode", "wal")
        .map_err(fault)?;
    // In WAL mode only FULL flushes the log at each commit; without, power loss may undo one.
    connection
        .pragma_update(None, "synchronous", "full")
        .map_err(fault)?;
    connection
        .pragma_update(None, "foreign_keys", true)
        .map_err(fault)?;
    bring_up_to_date(&mut connection, path, MIGRATIONS)?;
    log::fill(&mut connection)?;
    quarantine::carry_over(&mut connection)?;
    Ok(connection)
}

/// Copies an older store beside itself before it is changed.
fn bring_up_to_date(
    connection: &mut Connection,
    path: &Path,
    migrations: &[&str],
) -> Result<(), StorageError> {
    let found = pragma(connection, "user_version")?;
    let is_ours = pragma(connection, "application_id")? == APPLICATION_ID;
    let is_older = usize::try_from(found).is_ok_and(|found| found < migrations.len());
    if is_ours && found > 0 && is_older {
        copy_beside(connection, path, found)?;
    }
    migrate(connection, migrations)
}

fn copy_beside(connection: &Connection, path: &Path, version: i64) -> Result<(), StorageError> {
    let named = |end: &str| {
        let mut name = path.as_os_str().to_owned();
        name.push(format!(".version-{version}{end}"));
        PathBuf::from(name)
    };
    let (copy, part) = (named(""), named(".part"));
    let backend = |error: std::io::Error| StorageError::Backend(Box::new(error));
    // Left by a start that was cut off.
    if part.exists() {
        std::fs::remove_file(&part).map_err(backend)?;
    }
    for_owner_alone(&part);
    connection
        .execute("VACUUM INTO ?1", [part.to_string_lossy()])
        .map_err(fault)?;
    std::fs::rename(&part, &copy).map_err(backend)
}

/// Makes the file, if there is none, and lets nobody but its owner look into it: what the crew has signed is theirs.
/// SQLite gives its log and index beside the file the file's own permissions.
fn for_owner_alone(path: &Path) {
    #[cfg(unix)]
    {
        use std::os::unix::fs::{OpenOptionsExt as _, PermissionsExt as _};
        let mut options = std::fs::OpenOptions::new();
        // What becomes of it the opening that follows says.
        let _ = options.write(true).create_new(true).mode(0o600).open(path);
        for end in ["", "-wal", "-shm"] {
            let mut name = path.as_os_str().to_owned();
            name.push(end);
            let file = PathBuf::from(name);
            let mode = std::fs::metadata(&file).map(|known| known.permissions().mode() & 0o777);
            if let Ok(mode) = mode
                && mode & 0o077 != 0
                && let Err(error) =
                    std::fs::set_permissions(&file, std::fs::Permissions::from_mode(mode & 0o700))
            {
                tracing::warn!(path = %file.display(), %error, "others than its owner can read the store");
            }
        }
    }
}

/// Refuses a file that another program made, before anything of it is changed.
fn check_owner(connection: &Connection) -> Result<(), StorageError> {
    let owner = pragma(connection, "application_id")?;
    let tables = count_tables(connection).map_err(fault)?;
    if owner != APPLICATION_ID && (owner != 0 || tables > 0) {
        let text = "the file is another program's database".to_owned();
        return Err(StorageError::Corrupt(text));
    }
    Ok(())
}

/// Says what it means that a file cannot be opened to be written.
fn unopened(error: rusqlite::Error) -> StorageError {
    match error.sqlite_error_code() {
        Some(ErrorCode::CannotOpen | ErrorCode::PermissionDenied) => {
            StorageError::Unwritable(error.to_string())
        }
        _ => fault(error),
    }
}

/// A connection that only reads.
#[derive(Debug)]
pub(super) struct Reading {
    pub(super) connection: Connection,
    /// It takes the file for one that nobody changes: good for one reading.
    pub(super) is_still: bool,
}

/// Opens the file for one of the readers.
pub(super) fn open_for_reading(path: &Path) -> Result<Reading, StorageError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags).map_err(fault)?;
    prepare(&connection)?;
    match count_tables(&connection) {
        // Where no index of the log beside the file can be made, the file alone is read: all is in it that was
        // committed, if there is no log.
        Err(_) if has_no_log(path) => open_still(path, flags),
        Err(error) => Err(fault(error)),
        Ok(_) => Ok(Reading {
            connection,
            is_still: false,
        }),
    }
}

fn has_no_log(path: &Path) -> bool {
    let mut log = path.as_os_str().to_owned();
    log.push("-wal");
    std::fs::metadata(PathBuf::from(log)).map_or(true, |log| log.len() == 0)
}

fn open_still(path: &Path, flags: OpenFlags) -> Result<Reading, StorageError> {
    let name = path.to_string_lossy();
    let name = name
        .replace('%', "%25")
        .replace('?', "%3f")
        .replace('#', "%23");
    let uri = format!("file:{name}?immutable=1");
    let flags = flags | OpenFlags::SQLITE_OPEN_URI;
    let connection = Connection::open_with_flags(uri, flags).map_err(fault)?;
    prepare(&connection)?;
    count_tables(&connection).map_err(fault)?;
    let is_still = true;
    Ok(Reading {
        connection,
        is_still,
    })
}

/// Checks that the file can be read by this program as it is.
pub(super) fn check_readable(path: &Path) -> Result<(), StorageError> {
    let Reading { connection, .. } = open_for_reading(path)?;
    check_owner(&connection)?;
    let known = i64::try_from(MIGRATIONS.len()).expect("invariant: a handful of migrations");
    match pragma(&connection, "user_version")? {
        found if found > known => Err(StorageError::TooNew { found, known }),
        found if found < known => Err(StorageError::Unwritable(format!(
            "the store has version {found} and cannot be brought up to {known}"
        ))),
        _ => Ok(()),
    }
}

fn count_tables(connection: &Connection) -> rusqlite::Result<i64> {
    connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))
}

fn prepare(connection: &Connection) -> Result<(), StorageError> {
    connection.busy_timeout(PATIENCE).map_err(fault)?;
    connection.set_prepared_statement_cache_capacity(64);
    Ok(())
}

fn pragma(connection: &Connection, name: &str) -> Result<i64, StorageError> {
    connection
        .pragma_query_value(None, name, |row| row.get(0))
        .map_err(fault)
}

pub(super) fn migrate(
    connection: &mut Connection,
    migrations: &[&str],
) -> Result<(), StorageError> {
    let known = i64::try_from(migrations.len()).expect("invariant: a handful of migrations");
    // Under the writing lock, so that two programs that start together do not both migrate.
    let change = connection.transaction_with_behavior(TransactionBehavior::Immediate);
    let change = change.map_err(fault)?;
    check_owner(&change)?;
    let found = pragma(&change, "user_version")?;
    if found > known {
        return Err(StorageError::TooNew { found, known });
    }
    let applied = usize::try_from(found)
        .map_err(|_| StorageError::Corrupt(format!("the file has version {found}")))?;
    for migration in &migrations[applied..] {
        change.execute_batch(migration).map_err(fault)?;
    }
    change
        .pragma_update(None, "application_id", APPLICATION_ID)
        .map_err(fault)?;
    change
        .pragma_update(None, "user_version", known)
        .map_err(fault)?;
    change.commit().map_err(fault)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_is_marked_as_ours_and_opens_again() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.sqlite");
        for _ in 0..2 {
            let connection = open_for_writing(&path).unwrap();
            assert_eq!(
                pragma(&connection, "application_id").unwrap(),
                APPLICATION_ID
            );
            assert_eq!(pragma(&connection, "user_version").unwrap(), 4);
            assert_eq!(pragma(&connection, "synchronous").unwrap(), 2);
            let mode: String = connection
                .pragma_query_value(None, "journal_mode", |row| row.get(0))
                .unwrap();
            assert_eq!(mode, "wal");
        }
    }

    #[test]
    fn file_of_a_later_program_is_refused_and_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.sqlite");
        open_for_writing(&path)
            .unwrap()
            .pragma_update(None, "user_version", 99)
            .unwrap();
        let refused = open_for_writing(&path).unwrap_err();
        assert!(
            matches!(
                refused,
                StorageError::TooNew {
                    found: 99,
                    known: 4
                }
            ),
            "{refused}"
        );
    }

    #[test]
    fn file_of_another_program_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("other.sqlite");
        let other = Connection::open(&path).unwrap();
        other
            .execute_batch("CREATE TABLE recipes (name TEXT)")
            .unwrap();
        drop(other);
        let before = std::fs::read(&path).unwrap();
        assert!(matches!(
            open_for_writing(&path),
            Err(StorageError::Corrupt(_))
        ));
        assert_eq!(
            std::fs::read(&path).unwrap(),
            before,
            "nothing of it is changed"
        );
        let text = folder.path().join("notes.txt");
        std::fs::write(
            &text,
            "not a database, but long enough to look like one".repeat(40),
        )
        .unwrap();
        assert!(matches!(
            open_for_writing(&text),
            Err(StorageError::Damaged(_))
        ));
    }

    #[cfg(unix)]
    #[test]
    fn the_store_and_what_stands_beside_it_is_its_owners_alone() {
        use std::os::unix::fs::PermissionsExt as _;
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.sqlite");
        let check = || {
            let all: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
            for entry in all {
                let entry = entry.unwrap();
                let mode = entry.metadata().unwrap().permissions().mode() & 0o777;
                assert_eq!(mode & 0o077, 0, "{:?} has mode {mode:o}", entry.path());
            }
        };
        let mut connection = open_for_writing(&path).unwrap();
        connection
            .execute("INSERT INTO notes VALUES ('a', x'01')", [])
            .unwrap();
        check();
        let later = [MIGRATIONS, &["ALTER TABLE notes ADD COLUMN said TEXT"]].concat();
        bring_up_to_date(&mut connection, &path, &later).unwrap();
        connection.pragma_update(None, "user_version", 4).unwrap();
        assert!(folder.path().join("records.sqlite.version-4").exists());
        check();
        drop(connection);
        // One that an earlier program made for everybody to read is closed.
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o644)).unwrap();
        let _connection = open_for_writing(&path).unwrap();
        check();
    }

    #[test]
    fn later_migrations_keep_what_is_there() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.sqlite");
        let mut connection = open_for_writing(&path).unwrap();
        connection
            .execute("INSERT INTO notes VALUES ('a', x'01')", [])
            .unwrap();
        let later = [MIGRATIONS, &["ALTER TABLE notes ADD COLUMN said TEXT"]].concat();
        bring_up_to_date(&mut connection, &path, &later).unwrap();
        let (version, said): (i64, Option<String>) = (
            pragma(&connection, "user_version").unwrap(),
            connection
                .query_row("SELECT said FROM notes", [], |row| row.get(0))
                .unwrap(),
        );
        assert_eq!((version, said), (5, None));
        let copy = Connection::open(folder.path().join("records.sqlite.version-4")).unwrap();
        assert_eq!(pragma(&copy, "user_version").unwrap(), 4);
        let name: String = copy
            .query_row("SELECT name FROM notes", [], |row| row.get(0))
            .unwrap();
        assert_eq!(name, "a");
    }

    #[test]
    fn migration_that_fails_changes_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let mut connection = open_for_writing(&folder.path().join("records.sqlite")).unwrap();
        let broken = [MIGRATIONS, &["DROP TABLE notes; SELECT nonsense;"]].concat();
        assert!(migrate(&mut connection, &broken).is_err());
        assert_eq!(pragma(&connection, "user_version").unwrap(), 4);
        connection
            .execute("INSERT INTO notes VALUES ('a', x'01')", [])
            .unwrap();
    }
}
