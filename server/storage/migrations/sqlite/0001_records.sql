-- Records as they arrived: never changed, never removed.
CREATE TABLE records (
    arrival INTEGER PRIMARY KEY AUTOINCREMENT,
    id BLOB NOT NULL UNIQUE CHECK (length(id) = 32),
    vessel BLOB NOT NULL CHECK (length(vessel) = 16),
    device BLOB NOT NULL CHECK (length(device) = 16),
    seq INTEGER NOT NULL CHECK (seq > 0),
    prev BLOB CHECK (length(prev) = 32),
    run BLOB CHECK (length(run) = 32),
    kind TEXT NOT NULL,
    author TEXT NOT NULL,
    bytes BLOB NOT NULL,
    time_ms INTEGER NOT NULL,
    received_ms INTEGER NOT NULL,
    offset_ms INTEGER,
    state TEXT NOT NULL CHECK (state IN ('chain', 'fork'))
) STRICT;
CREATE UNIQUE INDEX records_chain ON records (vessel, device, seq) WHERE state = 'chain';
CREATE INDEX records_arrival ON records (vessel, arrival) WHERE state = 'chain';
CREATE INDEX records_run ON records (vessel, run, arrival) WHERE run IS NOT NULL;
CREATE INDEX records_fork ON records (vessel, arrival) WHERE state = 'fork';

-- How far each chain is whole; written in the same transaction as the records it counts.
CREATE TABLE chains (
    vessel BLOB NOT NULL,
    device BLOB NOT NULL,
    height INTEGER NOT NULL,
    head BLOB,
    PRIMARY KEY (vessel, device)
) STRICT, WITHOUT ROWID;

CREATE TABLE quarantine (
    arrival INTEGER PRIMARY KEY AUTOINCREMENT,
    vessel BLOB,
    bytes BLOB NOT NULL UNIQUE,
    reason TEXT NOT NULL,
    received_ms INTEGER NOT NULL
) STRICT;

CREATE TABLE notes (
    name TEXT PRIMARY KEY,
    bytes BLOB NOT NULL
) STRICT, WITHOUT ROWID;

-- Written to find out whether the store can be written to.
CREATE TABLE probe (
    only INTEGER PRIMARY KEY CHECK (only = 1),
    count INTEGER NOT NULL
) STRICT;
INSERT INTO probe VALUES (1, 0);
