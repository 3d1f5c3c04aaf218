-- Exchange rates, one more noun: what one unit of a currency was worth in another one on a
-- day, entered with its source. The rate is the text that was written, because it is exact.
--
-- Existing rows: none changes.

ALTER TABLE record DROP CONSTRAINT record_noun_check;

ALTER TABLE record ADD CONSTRAINT record_noun_check
    CHECK (noun IN ('src', 'fill', 'test', 'fabric', 'part', 'panel', 'sup', 'offer', 'design', 'room', 'rate'));

CREATE TABLE exchange_rate (
    record_id      text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    from_currency  text COLLATE "C" NOT NULL CHECK (length(from_currency) = 3),
    to_currency    text COLLATE "C" NOT NULL CHECK (length(to_currency) = 3 AND to_currency <> from_currency),
    rate           text COLLATE "C" NOT NULL CHECK (length(rate) BETWEEN 1 AND 22),
    observed_date  text COLLATE "C" NOT NULL CHECK (length(observed_date) = 10),
    evidence       text COLLATE "C" NOT NULL CHECK (evidence <> ''),
    source_id      text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note           text COLLATE "C" NOT NULL
);

CREATE INDEX exchange_rate_source ON exchange_rate (source_id);
