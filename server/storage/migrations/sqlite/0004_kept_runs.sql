-- What runs come to that are put away, so that a start need not fold them again. Made from the records, and made
-- again from them wherever it does not fit: the one thing here that is written over.
CREATE TABLE kept_runs (
    vessel BLOB NOT NULL CHECK (length(vessel) = 16),
    run BLOB NOT NULL CHECK (length(run) = 32),
    standing BLOB NOT NULL CHECK (length(standing) = 32),
    seal BLOB NOT NULL CHECK (length(seal) = 32),
    PRIMARY KEY (vessel, run)
) STRICT, WITHOUT ROWID;
CREATE TABLE kept_bodies (
    vessel BLOB NOT NULL CHECK (length(vessel) = 16),
    run BLOB NOT NULL CHECK (length(run) = 32),
    body BLOB NOT NULL,
    PRIMARY KEY (vessel, run)
) STRICT;

-- The records that belong to no run, or start one.
CREATE INDEX records_apart ON records (vessel, arrival) WHERE run IS NULL AND state = 'chain';
