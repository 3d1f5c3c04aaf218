-- Takes exchange rates away again.
-- Existing rows: all exchange rates are lost.

DROP TABLE exchange_rate;

DELETE FROM old_slug WHERE noun = 'rate';

DELETE FROM record WHERE noun = 'rate';

ALTER TABLE record DROP CONSTRAINT record_noun_check;

ALTER TABLE record ADD CONSTRAINT record_noun_check
    CHECK (noun IN ('src', 'fill', 'test', 'fabric', 'part', 'panel', 'sup', 'offer', 'design', 'room'));
