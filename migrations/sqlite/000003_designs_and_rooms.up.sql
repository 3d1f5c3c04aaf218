-- Panel designs and rooms, two more nouns: what a question would have to repeat can be
-- stored and named. A design holds every choice of the panel; a room holds its sides
-- or volume, what bounds it and stands in it, air, measured decay times and target,
-- each of the last three NULL as a whole when it is not stated.
--
-- Existing rows: none changes.

-- The words for nouns stand in a CHECK, which SQLite can only change in the text of the
-- schema (www.sqlite.org/lang_altertable.html, section 7, "if changes do not affect the
-- on-disk content").
PRAGMA writable_schema = ON;

UPDATE sqlite_schema SET sql = replace(sql, '''sup'', ''offer'')', '''sup'', ''offer'', ''design'', ''room'')')
WHERE type = 'table' AND name = 'record';

PRAGMA writable_schema = RESET;

CREATE TABLE design (
    record_id         TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    width_mm          REAL NOT NULL CHECK (width_mm > 0 AND width_mm < 1e6),
    height_mm         REAL NOT NULL CHECK (height_mm > 0 AND height_mm < 1e6),
    wrap_turn_mm      REAL NOT NULL CHECK (wrap_turn_mm BETWEEN 0 AND 1e6),
    back              TEXT NOT NULL CHECK (back <> ''),
    back_margin_mm    REAL NOT NULL CHECK (back_margin_mm BETWEEN -1e6 AND 1e6),
    fill_oversize_mm  REAL NOT NULL CHECK (fill_oversize_mm BETWEEN 0 AND 1e6),
    joint             TEXT NOT NULL CHECK (joint <> ''),
    braces_count      INTEGER NOT NULL CHECK (braces_count >= 0),
    stand_offs_count  INTEGER NOT NULL CHECK (stand_offs_count >= 0),
    note              TEXT NOT NULL
) STRICT;

CREATE TABLE design_part (
    record_id   TEXT NOT NULL REFERENCES design (record_id),
    position    INTEGER NOT NULL CHECK (position >= 0),
    role        TEXT NOT NULL CHECK (role <> ''),
    part_count  INTEGER NOT NULL CHECK (part_count >= 1),
    PRIMARY KEY (record_id, position),
    UNIQUE (record_id, role)
) STRICT;

CREATE TABLE room (
    record_id             TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    length_m              REAL NOT NULL CHECK (length_m BETWEEN 0 AND 1e4),
    width_m               REAL NOT NULL CHECK (width_m BETWEEN 0 AND 1e4),
    height_m              REAL NOT NULL CHECK (height_m BETWEEN 0 AND 1e4),
    volume_m3             REAL NOT NULL CHECK (volume_m3 BETWEEN 0 AND 1e9),
    air_temperature_c     REAL CHECK (air_temperature_c BETWEEN -273.15 AND 1e3),
    air_humidity_percent  REAL CHECK (air_humidity_percent BETWEEN 0 AND 100),
    air_pressure_kpa      REAL CHECK (air_pressure_kpa BETWEEN 0 AND 1e4),
    time_125_hz_s         REAL CHECK (time_125_hz_s BETWEEN 0 AND 1e3),
    time_250_hz_s         REAL CHECK (time_250_hz_s BETWEEN 0 AND 1e3),
    time_500_hz_s         REAL CHECK (time_500_hz_s BETWEEN 0 AND 1e3),
    time_1000_hz_s        REAL CHECK (time_1000_hz_s BETWEEN 0 AND 1e3),
    time_2000_hz_s        REAL CHECK (time_2000_hz_s BETWEEN 0 AND 1e3),
    time_4000_hz_s        REAL CHECK (time_4000_hz_s BETWEEN 0 AND 1e3),
    target_rule           TEXT CHECK (target_rule <> ''),
    target_group          TEXT,
    target_time_s         REAL CHECK (target_time_s BETWEEN 0 AND 1e3),
    target_from_hz        INTEGER CHECK (target_from_hz BETWEEN 100 AND 5000),
    target_to_hz          INTEGER CHECK (target_to_hz BETWEEN target_from_hz AND 5000),
    source_id             TEXT NOT NULL REFERENCES source (record_id),
    note                  TEXT NOT NULL
) STRICT;

CREATE TABLE room_surface (
    record_id      TEXT NOT NULL REFERENCES room (record_id),
    position       INTEGER NOT NULL CHECK (position >= 0),
    face           TEXT NOT NULL,
    area_m2        REAL NOT NULL CHECK (area_m2 BETWEEN 0 AND 1e9),
    material       TEXT NOT NULL,
    alpha_125_hz   REAL CHECK (alpha_125_hz BETWEEN 0 AND 2),
    alpha_250_hz   REAL CHECK (alpha_250_hz BETWEEN 0 AND 2),
    alpha_500_hz   REAL CHECK (alpha_500_hz BETWEEN 0 AND 2),
    alpha_1000_hz  REAL CHECK (alpha_1000_hz BETWEEN 0 AND 2),
    alpha_2000_hz  REAL CHECK (alpha_2000_hz BETWEEN 0 AND 2),
    alpha_4000_hz  REAL CHECK (alpha_4000_hz BETWEEN 0 AND 2),
    PRIMARY KEY (record_id, position)
) STRICT;

CREATE TABLE room_thing (
    record_id        TEXT NOT NULL REFERENCES room (record_id),
    position         INTEGER NOT NULL CHECK (position >= 0),
    material         TEXT NOT NULL,
    thing_count      INTEGER NOT NULL CHECK (thing_count >= 1),
    area_125_hz_m2   REAL CHECK (area_125_hz_m2 BETWEEN 0 AND 1e6),
    area_250_hz_m2   REAL CHECK (area_250_hz_m2 BETWEEN 0 AND 1e6),
    area_500_hz_m2   REAL CHECK (area_500_hz_m2 BETWEEN 0 AND 1e6),
    area_1000_hz_m2  REAL CHECK (area_1000_hz_m2 BETWEEN 0 AND 1e6),
    area_2000_hz_m2  REAL CHECK (area_2000_hz_m2 BETWEEN 0 AND 1e6),
    area_4000_hz_m2  REAL CHECK (area_4000_hz_m2 BETWEEN 0 AND 1e6),
    PRIMARY KEY (record_id, position)
) STRICT;
