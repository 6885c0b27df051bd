-- What runs come to that are put away, so that a start need not fold them again. Made from the records, and made
-- again from them wherever it does not fit: the one thing here that is written over.
CREATE TABLE kept_runs (
    vessel BYTEA NOT NULL CHECK (octet_length(vessel) = 16),
    run BYTEA NOT NULL CHECK (octet_length(run) = 32),
    standing BYTEA NOT NULL CHECK (octet_length(standing) = 32),
    seal BYTEA NOT NULL CHECK (octet_length(seal) = 32),
    PRIMARY KEY (vessel, run)
);
CREATE TABLE kept_bodies (
    vessel BYTEA NOT NULL CHECK (octet_length(vessel) = 16),
    run BYTEA NOT NULL CHECK (octet_length(run) = 32),
    body BYTEA NOT NULL,
    PRIMARY KEY (vessel, run)
);

-- The records that belong to no run, or start one.
CREATE INDEX records_apart ON records (vessel, arrival) WHERE run IS NULL AND state = 'chain';
