-- What was refused is known by the SHA-256 of its bytes: an index over the bytes themselves kept them twice.
-- The rows of an older store are carried over, and that table goes, when the store is opened.
ALTER TABLE quarantine RENAME TO quarantine_by_bytes;
CREATE TABLE quarantine (
    arrival INTEGER PRIMARY KEY AUTOINCREMENT,
    hash BLOB NOT NULL UNIQUE CHECK (length(hash) = 32),
    vessel BLOB,
    bytes BLOB NOT NULL,
    reason TEXT NOT NULL,
    received_ms INTEGER NOT NULL
) STRICT;
