-- Takes exchange rates away again.
-- Existing rows: all exchange rates are lost.

DROP TABLE exchange_rate;

DELETE FROM old_slug WHERE noun = 'rate';

DELETE FROM record WHERE noun = 'rate';

PRAGMA writable_schema = ON;

UPDATE sqlite_schema SET sql = replace(sql, '''room'', ''rate'')', '''room'')')
WHERE type = 'table' AND name = 'record';

PRAGMA writable_schema = RESET;
