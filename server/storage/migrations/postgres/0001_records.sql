-- Records as they arrived: never changed, never removed.
CREATE TABLE records (
    arrival BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    id BYTEA NOT NULL UNIQUE CHECK (octet_length(id) = 32),
    vessel BYTEA NOT NULL CHECK (octet_length(vessel) = 16),
    device BYTEA NOT NULL CHECK (octet_length(device) = 16),
    seq BIGINT NOT NULL CHECK (seq > 0),
    prev BYTEA CHECK (octet_length(prev) = 32),
    run BYTEA CHECK (octet_length(run) = 32),
    kind TEXT NOT NULL,
    author TEXT NOT NULL,
    bytes BYTEA NOT NULL,
    time_ms BIGINT NOT NULL,
    received_ms BIGINT NOT NULL,
    offset_ms BIGINT,
    state TEXT NOT NULL CHECK (state IN ('chain', 'fork'))
);
CREATE UNIQUE INDEX records_chain ON records (vessel, device, seq) WHERE state = 'chain';
CREATE INDEX records_arrival ON records (vessel, arrival) WHERE state = 'chain';
CREATE INDEX records_run ON records (vessel, run, arrival) WHERE run IS NOT NULL;
CREATE INDEX records_fork ON records (vessel, arrival) WHERE state = 'fork';

-- How far each chain is whole; written in the same transaction as the records it counts.
CREATE TABLE chains (
    vessel BYTEA NOT NULL,
    device BYTEA NOT NULL,
    height BIGINT NOT NULL,
    head BYTEA,
    PRIMARY KEY (vessel, device)
);

CREATE TABLE quarantine (
    arrival BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY,
    vessel BYTEA,
    bytes BYTEA NOT NULL,
    reason TEXT NOT NULL,
    received_ms BIGINT NOT NULL
);
CREATE UNIQUE INDEX quarantine_bytes ON quarantine (sha256(bytes));

CREATE TABLE notes (
    name TEXT PRIMARY KEY,
    bytes BYTEA NOT NULL
);

-- Written to find out whether the store can be written to.
CREATE TABLE probe (
    only_row INTEGER PRIMARY KEY CHECK (only_row = 1),
    count BIGINT NOT NULL
);
INSERT INTO probe VALUES (1, 0);
