-- Takes panel designs and rooms away again.
-- Existing rows: all designs and rooms are lost.

DROP TABLE room_thing;

DROP TABLE room_surface;

DROP TABLE room;

DROP TABLE design_part;

DROP TABLE design;

DELETE FROM old_slug WHERE noun IN ('design', 'room');

DELETE FROM record WHERE noun IN ('design', 'room');

PRAGMA writable_schema = ON;

UPDATE sqlite_schema SET sql = replace(sql, '''sup'', ''offer'', ''design'', ''room'')', '''sup'', ''offer'')')
WHERE type = 'table' AND name = 'record';

PRAGMA writable_schema = RESET;
