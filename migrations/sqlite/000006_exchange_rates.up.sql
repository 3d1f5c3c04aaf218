-- Exchange rates, one more noun: what one unit of a currency was worth in another one on a
-- day, entered with its source. The rate is the text that was written, because it is exact.
--
-- Existing rows: none changes.

-- The words for nouns stand in a CHECK: see migration 3.
PRAGMA writable_schema = ON;

UPDATE sqlite_schema SET sql = replace(sql, '''design'', ''room'')', '''design'', ''room'', ''rate'')')
WHERE type = 'table' AND name = 'record';

PRAGMA writable_schema = RESET;

CREATE TABLE exchange_rate (
    record_id      TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    from_currency  TEXT NOT NULL CHECK (length(from_currency) = 3),
    to_currency    TEXT NOT NULL CHECK (length(to_currency) = 3 AND to_currency <> from_currency),
    rate           TEXT NOT NULL CHECK (length(rate) BETWEEN 1 AND 22),
    observed_date  TEXT NOT NULL CHECK (length(observed_date) = 10),
    evidence       TEXT NOT NULL CHECK (evidence <> ''),
    source_id      TEXT NOT NULL REFERENCES source (record_id),
    note           TEXT NOT NULL
) STRICT;

CREATE INDEX exchange_rate_source ON exchange_rate (source_id);
