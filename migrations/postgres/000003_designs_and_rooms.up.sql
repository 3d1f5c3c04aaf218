-- Panel designs and rooms, two more nouns: what a question would have to repeat can be
-- stored and named. A design holds every choice of the panel; a room holds its sides
-- or volume, what bounds it and stands in it, air, measured decay times and target,
-- each of the last three NULL as a whole when it is not stated.
--
-- Existing rows: none changes.

ALTER TABLE record DROP CONSTRAINT record_noun_check;

ALTER TABLE record ADD CONSTRAINT record_noun_check
    CHECK (noun IN ('src', 'fill', 'test', 'fabric', 'part', 'panel', 'sup', 'offer', 'design', 'room'));

CREATE TABLE design (
    record_id         text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    width_mm          double precision NOT NULL CHECK (width_mm > 0 AND width_mm < 1e6),
    height_mm         double precision NOT NULL CHECK (height_mm > 0 AND height_mm < 1e6),
    wrap_turn_mm      double precision NOT NULL CHECK (wrap_turn_mm BETWEEN 0 AND 1e6),
    back              text COLLATE "C" NOT NULL CHECK (back <> ''),
    back_margin_mm    double precision NOT NULL CHECK (back_margin_mm BETWEEN -1e6 AND 1e6),
    fill_oversize_mm  double precision NOT NULL CHECK (fill_oversize_mm BETWEEN 0 AND 1e6),
    joint             text COLLATE "C" NOT NULL CHECK (joint <> ''),
    braces_count      bigint NOT NULL CHECK (braces_count >= 0),
    stand_offs_count  bigint NOT NULL CHECK (stand_offs_count >= 0),
    note              text COLLATE "C" NOT NULL
);

CREATE TABLE design_part (
    record_id   text COLLATE "C" NOT NULL REFERENCES design (record_id),
    position    bigint NOT NULL CHECK (position >= 0),
    role        text COLLATE "C" NOT NULL CHECK (role <> ''),
    part_count  bigint NOT NULL CHECK (part_count >= 1),
    PRIMARY KEY (record_id, position),
    UNIQUE (record_id, role)
);

CREATE TABLE room (
    record_id             text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    length_m              double precision NOT NULL CHECK (length_m BETWEEN 0 AND 1e4),
    width_m               double precision NOT NULL CHECK (width_m BETWEEN 0 AND 1e4),
    height_m              double precision NOT NULL CHECK (height_m BETWEEN 0 AND 1e4),
    volume_m3             double precision NOT NULL CHECK (volume_m3 BETWEEN 0 AND 1e9),
    air_temperature_c     double precision CHECK (air_temperature_c BETWEEN -273.15 AND 1e3),
    air_humidity_percent  double precision CHECK (air_humidity_percent BETWEEN 0 AND 100),
    air_pressure_kpa      double precision CHECK (air_pressure_kpa BETWEEN 0 AND 1e4),
    time_125_hz_s         double precision CHECK (time_125_hz_s BETWEEN 0 AND 1e3),
    time_250_hz_s         double precision CHECK (time_250_hz_s BETWEEN 0 AND 1e3),
    time_500_hz_s         double precision CHECK (time_500_hz_s BETWEEN 0 AND 1e3),
    time_1000_hz_s        double precision CHECK (time_1000_hz_s BETWEEN 0 AND 1e3),
    time_2000_hz_s        double precision CHECK (time_2000_hz_s BETWEEN 0 AND 1e3),
    time_4000_hz_s        double precision CHECK (time_4000_hz_s BETWEEN 0 AND 1e3),
    target_rule           text COLLATE "C" CHECK (target_rule <> ''),
    target_group          text COLLATE "C",
    target_time_s         double precision CHECK (target_time_s BETWEEN 0 AND 1e3),
    target_from_hz        bigint CHECK (target_from_hz BETWEEN 100 AND 5000),
    target_to_hz          bigint CHECK (target_to_hz BETWEEN target_from_hz AND 5000),
    source_id             text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note                  text COLLATE "C" NOT NULL
);

CREATE TABLE room_surface (
    record_id      text COLLATE "C" NOT NULL REFERENCES room (record_id),
    position       bigint NOT NULL CHECK (position >= 0),
    face           text COLLATE "C" NOT NULL,
    area_m2        double precision NOT NULL CHECK (area_m2 BETWEEN 0 AND 1e9),
    material       text COLLATE "C" NOT NULL,
    alpha_125_hz   double precision CHECK (alpha_125_hz BETWEEN 0 AND 2),
    alpha_250_hz   double precision CHECK (alpha_250_hz BETWEEN 0 AND 2),
    alpha_500_hz   double precision CHECK (alpha_500_hz BETWEEN 0 AND 2),
    alpha_1000_hz  double precision CHECK (alpha_1000_hz BETWEEN 0 AND 2),
    alpha_2000_hz  double precision CHECK (alpha_2000_hz BETWEEN 0 AND 2),
    alpha_4000_hz  double precision CHECK (alpha_4000_hz BETWEEN 0 AND 2),
    PRIMARY KEY (record_id, position)
);

CREATE TABLE room_thing (
    record_id        text COLLATE "C" NOT NULL REFERENCES room (record_id),
    position         bigint NOT NULL CHECK (position >= 0),
    material         text COLLATE "C" NOT NULL,
    thing_count      bigint NOT NULL CHECK (thing_count >= 1),
    area_125_hz_m2   double precision CHECK (area_125_hz_m2 BETWEEN 0 AND 1e6),
    area_250_hz_m2   double precision CHECK (area_250_hz_m2 BETWEEN 0 AND 1e6),
    area_500_hz_m2   double precision CHECK (area_500_hz_m2 BETWEEN 0 AND 1e6),
    area_1000_hz_m2  double precision CHECK (area_1000_hz_m2 BETWEEN 0 AND 1e6),
    area_2000_hz_m2  double precision CHECK (area_2000_hz_m2 BETWEEN 0 AND 1e6),
    area_4000_hz_m2  double precision CHECK (area_4000_hz_m2 BETWEEN 0 AND 1e6),
    PRIMARY KEY (record_id, position)
);
