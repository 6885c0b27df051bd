-- The log: every record of a vessel, forks too, is a leaf of her Merkle tree, numbered from 0 in the
-- order of arrival. Records of an older store get their numbers when it is opened.
ALTER TABLE records ADD COLUMN leaf BIGINT CHECK (leaf >= 0);
CREATE UNIQUE INDEX records_leaf ON records (vessel, leaf) WHERE leaf IS NOT NULL;
CREATE INDEX records_without_leaf ON records (vessel, arrival) WHERE leaf IS NULL;

-- How many leaves each vessel's tree has; written in the same transaction as the records.
CREATE TABLE logs (
    vessel BYTEA PRIMARY KEY CHECK (octet_length(vessel) = 16),
    size BIGINT NOT NULL CHECK (size >= 0)
);

-- The tree, in tiles of up to 256 hashes.
CREATE TABLE log_tiles (
    vessel BYTEA NOT NULL CHECK (octet_length(vessel) = 16),
    level INTEGER NOT NULL,
    place BIGINT NOT NULL,
    hashes BYTEA NOT NULL,
    PRIMARY KEY (vessel, level, place)
);
