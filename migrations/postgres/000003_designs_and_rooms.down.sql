-- Takes panel designs and rooms away again.
-- Existing rows: all designs and rooms are lost.

DROP TABLE room_thing;

DROP TABLE room_surface;

DROP TABLE room;

DROP TABLE design_part;

DROP TABLE design;

DELETE FROM old_slug WHERE noun IN ('design', 'room');

DELETE FROM record WHERE noun IN ('design', 'room');

ALTER TABLE record DROP CONSTRAINT record_noun_check;

ALTER TABLE record ADD CONSTRAINT record_noun_check
    CHECK (noun IN ('src', 'fill', 'test', 'fabric', 'part', 'panel', 'sup', 'offer'));
