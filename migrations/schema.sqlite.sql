-- The whole schema as all migrations in sqlite/ leave it, for reading. A test of
-- package store compares it with what they do.

CREATE TABLE catalog_state (
    only_row  INTEGER NOT NULL PRIMARY KEY CHECK (only_row = 1),
    revision  INTEGER NOT NULL CHECK (revision >= 0)
) STRICT;

INSERT INTO catalog_state (only_row, revision) VALUES (1, 0);

CREATE TABLE record (
    id           TEXT NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 28 AND 40),
    noun         TEXT NOT NULL CHECK (noun IN ('src', 'fill', 'test', 'fabric', 'part', 'panel', 'sup', 'offer', 'design', 'room', 'rate')),
    slug         TEXT NOT NULL CHECK (length(slug) BETWEEN 1 AND 63),
    name         TEXT NOT NULL CHECK (name <> ''),
    name_key     TEXT NOT NULL CHECK (name_key <> ''),
    revision     INTEGER NOT NULL CHECK (revision >= 1),
    create_time  TEXT NOT NULL,
    update_time  TEXT NOT NULL,
    updated_by   TEXT NOT NULL,
    deleted      INTEGER NOT NULL CHECK (deleted IN (0, 1)), created_by TEXT NOT NULL DEFAULT '',
    CONSTRAINT record_slug UNIQUE (noun, slug)
) STRICT;

CREATE UNIQUE INDEX record_name ON record (noun, name_key) WHERE noun NOT IN ('test', 'offer');

CREATE TABLE old_slug (
    noun       TEXT NOT NULL,
    slug       TEXT NOT NULL,
    record_id  TEXT NOT NULL REFERENCES record (id),
    PRIMARY KEY (noun, slug)
) STRICT;

CREATE TABLE source (
    record_id       TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    citation        TEXT NOT NULL,
    observer        TEXT NOT NULL,
    published_date  TEXT NOT NULL CHECK (length(published_date) IN (0, 10)),
    licence         TEXT NOT NULL,
    evidence        TEXT NOT NULL CHECK (evidence <> ''),
    invented        INTEGER NOT NULL CHECK (invented IN (0, 1)),
    note            TEXT NOT NULL
) STRICT;

CREATE TABLE figure (
    record_id  TEXT NOT NULL REFERENCES record (id),
    field      TEXT NOT NULL,
    value      REAL NOT NULL CHECK (value BETWEEN 0 AND 1e12),
    low        REAL NOT NULL CHECK (low BETWEEN 0 AND value),
    high       REAL NOT NULL CHECK (high = 0 OR high BETWEEN value AND 1e12),
    evidence   TEXT NOT NULL CHECK (evidence <> ''),
    source_id  TEXT NOT NULL REFERENCES source (record_id),
    basis      TEXT NOT NULL,
    PRIMARY KEY (record_id, field)
) STRICT;

CREATE INDEX figure_source ON figure (source_id);

CREATE TABLE fire_declaration (
    record_id              TEXT NOT NULL REFERENCES record (id),
    position               INTEGER NOT NULL CHECK (position >= 0),
    subject                TEXT NOT NULL CHECK (subject <> ''),
    scheme                 TEXT NOT NULL CHECK (scheme <> ''),
    code                   TEXT NOT NULL,
    flame_spread_index     INTEGER CHECK (flame_spread_index >= 0),
    smoke_developed_index  INTEGER CHECK (smoke_developed_index >= 0),
    edition                TEXT NOT NULL,
    report                 TEXT NOT NULL,
    laboratory             TEXT NOT NULL,
    end_use                TEXT NOT NULL,
    durability             TEXT NOT NULL CHECK (durability <> ''),
    evidence               TEXT NOT NULL CHECK (evidence <> ''),
    source_id              TEXT NOT NULL REFERENCES source (record_id),
    PRIMARY KEY (record_id, position)
) STRICT;

CREATE TABLE band (
    record_id  TEXT NOT NULL REFERENCES record (id),
    band_hz    INTEGER NOT NULL CHECK (band_hz BETWEEN 100 AND 5000),
    alpha      REAL NOT NULL CHECK (alpha BETWEEN 0 AND 2),
    PRIMARY KEY (record_id, band_hz)
) STRICT;

CREATE TABLE fill (
    record_id         TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    family            TEXT NOT NULL CHECK (family <> ''),
    form              TEXT NOT NULL CHECK (form <> ''),
    handling_profile  TEXT NOT NULL CHECK (handling_profile <> ''),
    irritant          TEXT NOT NULL CHECK (irritant IN ('yes', 'no', 'unknown')),
    dust              TEXT NOT NULL CHECK (dust IN ('yes', 'no', 'unknown')),
    binder            TEXT NOT NULL CHECK (binder <> ''),
    moth_treatment    TEXT NOT NULL CHECK (moth_treatment <> ''),
    back_tissue       TEXT NOT NULL CHECK (back_tissue IN ('yes', 'no', 'unknown')),
    note_q            TEXT NOT NULL CHECK (note_q IN ('yes', 'no', 'unknown')),
    note_r            TEXT NOT NULL CHECK (note_r IN ('yes', 'no', 'unknown')),
    source_id         TEXT NOT NULL REFERENCES source (record_id),
    note              TEXT NOT NULL
) STRICT;

CREATE TABLE fill_size (
    record_id     TEXT NOT NULL REFERENCES fill (record_id),
    position      INTEGER NOT NULL CHECK (position >= 0),
    length_mm     REAL NOT NULL CHECK (length_mm > 0 AND length_mm < 1e6),
    width_mm      REAL NOT NULL CHECK (width_mm > 0 AND width_mm < 1e6),
    thickness_mm  REAL NOT NULL CHECK (thickness_mm > 0 AND thickness_mm < 1e6),
    PRIMARY KEY (record_id, position),
    UNIQUE (record_id, length_mm, width_mm, thickness_mm)
) STRICT;

CREATE TABLE absorption_test (
    record_id           TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    fill_id             TEXT NOT NULL REFERENCES fill (record_id),
    standard            TEXT NOT NULL CHECK (standard <> ''),
    mounting_type       TEXT NOT NULL CHECK (mounting_type <> ''),
    mounting_suffix_mm  REAL NOT NULL CHECK (mounting_suffix_mm BETWEEN 0 AND 1e6),
    thickness_mm        REAL NOT NULL CHECK (thickness_mm > 0 AND thickness_mm < 1e6),
    air_gap_mm          REAL NOT NULL CHECK (air_gap_mm BETWEEN 0 AND 1e6),
    density_kg_per_m3   REAL NOT NULL CHECK (density_kg_per_m3 BETWEEN 0 AND 1e6),
    band_basis          TEXT NOT NULL CHECK (band_basis IN ('third_octave', 'octave')),
    capped_at_one       INTEGER NOT NULL CHECK (capped_at_one IN (0, 1)),
    evidence            TEXT NOT NULL CHECK (evidence <> ''),
    source_id           TEXT NOT NULL REFERENCES source (record_id),
    note                TEXT NOT NULL
, use TEXT NOT NULL DEFAULT '' CHECK (use IN ('', 'preferred', 'set_aside')), use_note TEXT NOT NULL DEFAULT '' CHECK ((use_note = '') = (use = ''))) STRICT;

CREATE INDEX absorption_test_fill ON absorption_test (fill_id);

CREATE TABLE fabric (
    record_id              TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    roll_width_mm          REAL NOT NULL CHECK (roll_width_mm > 0 AND roll_width_mm < 1e6),
    selvedge_mm            REAL NOT NULL CHECK (selvedge_mm BETWEEN 0 AND roll_width_mm),
    air_velocity_mm_per_s  REAL CHECK (air_velocity_mm_per_s > 0 AND air_velocity_mm_per_s < 1e6),
    air_pressure_pa        REAL CHECK (air_pressure_pa > 0 AND air_pressure_pa < 1e6),
    air_evidence           TEXT CHECK (air_evidence <> ''),
    air_source_id          TEXT REFERENCES source (record_id),
    directional            INTEGER NOT NULL CHECK (directional IN (0, 1)),
    stretch                TEXT NOT NULL CHECK (stretch <> ''),
    source_id              TEXT NOT NULL REFERENCES source (record_id),
    note                   TEXT NOT NULL,
    CHECK ((air_velocity_mm_per_s IS NULL) = (air_pressure_pa IS NULL)),
    CHECK ((air_velocity_mm_per_s IS NULL) = (air_evidence IS NULL)),
    CHECK ((air_velocity_mm_per_s IS NULL) = (air_source_id IS NULL))
) STRICT;

CREATE TABLE part (
    record_id             TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    kind                  TEXT NOT NULL CHECK (kind <> ''),
    role                  TEXT NOT NULL CHECK (role <> ''),
    section_thickness_mm  REAL NOT NULL CHECK (section_thickness_mm BETWEEN 0 AND 1e6),
    section_width_mm      REAL NOT NULL CHECK (section_width_mm BETWEEN 0 AND 1e6),
    uses_per_unit_count   INTEGER NOT NULL CHECK (uses_per_unit_count >= 0),
    source_id             TEXT NOT NULL REFERENCES source (record_id),
    note                  TEXT NOT NULL
) STRICT;

CREATE TABLE part_stock_length (
    record_id  TEXT NOT NULL REFERENCES part (record_id),
    position   INTEGER NOT NULL CHECK (position >= 0),
    length_mm  REAL NOT NULL CHECK (length_mm > 0 AND length_mm < 1e6),
    PRIMARY KEY (record_id, position)
) STRICT;

CREATE TABLE ready_made_panel (
    record_id        TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    width_mm         REAL NOT NULL CHECK (width_mm > 0 AND width_mm < 1e6),
    height_mm        REAL NOT NULL CHECK (height_mm > 0 AND height_mm < 1e6),
    depth_mm         REAL NOT NULL CHECK (depth_mm > 0 AND depth_mm < 1e6),
    band_basis       TEXT NOT NULL CHECK (band_basis IN ('third_octave', 'octave', '')),
    alpha_evidence   TEXT NOT NULL,
    alpha_source_id  TEXT REFERENCES source (record_id),
    mounting_type    TEXT NOT NULL,
    source_id        TEXT NOT NULL REFERENCES source (record_id),
    note             TEXT NOT NULL
) STRICT;

CREATE TABLE supplier (
    record_id                    TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    country                      TEXT NOT NULL CHECK (length(country) IN (0, 2)),
    region                       TEXT NOT NULL,
    currency                     TEXT NOT NULL CHECK (length(currency) = 3),
    delivery_fee_micro           INTEGER CHECK (delivery_fee_micro >= 0),
    delivery_fee_currency        TEXT,
    delivery_free_from_micro     INTEGER CHECK (delivery_free_from_micro >= 0),
    delivery_free_from_currency  TEXT,
    delivery_per_kg_micro        INTEGER CHECK (delivery_per_kg_micro >= 0),
    delivery_per_kg_currency     TEXT,
    trip_cost_micro              INTEGER CHECK (trip_cost_micro >= 0),
    trip_cost_currency           TEXT,
    source_id                    TEXT NOT NULL REFERENCES source (record_id),
    note                         TEXT NOT NULL, delivery_weight_basis TEXT CHECK (delivery_weight_basis <> ''), delivery_divisor_cm3_per_kg INTEGER CHECK (delivery_divisor_cm3_per_kg >= 0), delivery_free_covers_weight INTEGER CHECK (delivery_free_covers_weight IN (0, 1)),
    CHECK ((delivery_fee_micro IS NULL) = (delivery_fee_currency IS NULL)),
    CHECK ((delivery_fee_micro IS NULL) = (delivery_per_kg_micro IS NULL)),
    CHECK ((delivery_per_kg_micro IS NULL) = (delivery_per_kg_currency IS NULL)),
    CHECK ((delivery_free_from_micro IS NULL) = (delivery_free_from_currency IS NULL)),
    CHECK (delivery_free_from_micro IS NULL OR delivery_fee_micro IS NOT NULL),
    CHECK ((trip_cost_micro IS NULL) = (trip_cost_currency IS NULL))
) STRICT;

CREATE TABLE offer (
    record_id         TEXT NOT NULL PRIMARY KEY REFERENCES record (id),
    supplier_id       TEXT NOT NULL REFERENCES supplier (record_id),
    item_kind         TEXT NOT NULL CHECK (item_kind IN ('fill', 'fabric', 'part', 'ready_made_panel')),
    item_id           TEXT NOT NULL REFERENCES record (id),
    size_length_mm    REAL CHECK (size_length_mm > 0),
    size_width_mm     REAL CHECK (size_width_mm > 0),
    thickness_mm      REAL CHECK (thickness_mm > 0),
    stock_length_mm   REAL NOT NULL CHECK (stock_length_mm BETWEEN 0 AND 1e6),
    pack_count        INTEGER NOT NULL CHECK (pack_count >= 0),
    pack_length_mm    REAL NOT NULL CHECK (pack_length_mm BETWEEN 0 AND 1e7),
    pack_mass_kg      REAL NOT NULL CHECK (pack_mass_kg BETWEEN 0 AND 1e6),
    min_packs_count   INTEGER NOT NULL CHECK (min_packs_count >= 0),
    max_packs_count   INTEGER NOT NULL CHECK (max_packs_count >= 0),
    source_id         TEXT NOT NULL REFERENCES source (record_id),
    note              TEXT NOT NULL, pack_volume_l REAL NOT NULL DEFAULT 0 CHECK (pack_volume_l BETWEEN 0 AND 1e9),
    CHECK ((size_length_mm IS NULL) = (size_width_mm IS NULL)),
    CHECK ((size_length_mm IS NULL) = (thickness_mm IS NULL))
) STRICT;

CREATE INDEX offer_supplier ON offer (supplier_id);

CREATE INDEX offer_item ON offer (item_id);

CREATE TABLE price (
    id             TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    offer_id       TEXT NOT NULL REFERENCES offer (record_id),
    amount_micro   INTEGER NOT NULL CHECK (amount_micro >= 0),
    currency       TEXT NOT NULL CHECK (length(currency) = 3),
    tax_included   INTEGER NOT NULL CHECK (tax_included IN (0, 1)),
    tax_rate_bp    INTEGER NOT NULL CHECK (tax_rate_bp BETWEEN 0 AND 10000),
    observed_date  TEXT NOT NULL CHECK (length(observed_date) = 10),
    corrects_id    TEXT REFERENCES price (id) CHECK (corrects_id <> id),
    evidence       TEXT NOT NULL CHECK (evidence <> ''),
    source_id      TEXT NOT NULL REFERENCES source (record_id),
    note           TEXT NOT NULL,
    create_time    TEXT NOT NULL,
    created_by     TEXT NOT NULL
) STRICT;

CREATE INDEX price_offer ON price (offer_id, observed_date);

CREATE INDEX price_corrects ON price (corrects_id);

CREATE TRIGGER price_update BEFORE UPDATE ON price
BEGIN SELECT RAISE(ABORT, 'prices are only ever added'); END;

CREATE TRIGGER price_delete BEFORE DELETE ON price
BEGIN SELECT RAISE(ABORT, 'prices are only ever added'); END;

CREATE TABLE price_break (
    price_id      TEXT NOT NULL REFERENCES price (id),
    from_count    INTEGER NOT NULL CHECK (from_count >= 2),
    amount_micro  INTEGER NOT NULL CHECK (amount_micro >= 0),
    PRIMARY KEY (price_id, from_count)
) STRICT;

CREATE TRIGGER price_break_update BEFORE UPDATE ON price_break
BEGIN SELECT RAISE(ABORT, 'prices are only ever added'); END;

CREATE TRIGGER price_break_delete BEFORE DELETE ON price_break
BEGIN SELECT RAISE(ABORT, 'prices are only ever added'); END;

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

CREATE TABLE member_token (
    id           TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    member       TEXT NOT NULL CHECK (member <> ''),
    role         TEXT NOT NULL CHECK (role IN ('reader', 'contributor', 'curator', 'admin')),
    scopes       TEXT NOT NULL,
    hash         TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
    last_four    TEXT NOT NULL CHECK (length(last_four) = 4),
    create_time  TEXT NOT NULL,
    expire_time  TEXT,
    revoke_time  TEXT,
    created_by   TEXT NOT NULL CHECK (created_by <> '')
) STRICT;

CREATE TABLE kept_answer (
    scope             TEXT NOT NULL CHECK (length(scope) = 64),
    request_key       TEXT NOT NULL CHECK (length(request_key) BETWEEN 1 AND 255),
    fingerprint       TEXT NOT NULL CHECK (length(fingerprint) = 64),
    status            INTEGER NOT NULL CHECK (status BETWEEN 200 AND 299),
    etag              TEXT NOT NULL,
    location          TEXT NOT NULL,
    content_location  TEXT NOT NULL,
    content_type      TEXT NOT NULL,
    body              TEXT NOT NULL,
    create_time       TEXT NOT NULL,
    PRIMARY KEY (scope, request_key)
) STRICT;

CREATE INDEX kept_answer_by_time ON kept_answer (create_time);

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

CREATE TABLE shortlist (
    id             TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    slug_scope     TEXT NOT NULL,
    slug           TEXT NOT NULL CHECK (length(slug) BETWEEN 1 AND 63),
    name           TEXT NOT NULL CHECK (name <> ''),
    name_key       TEXT NOT NULL CHECK (name_key <> ''),
    note           TEXT NOT NULL,
    visibility     TEXT NOT NULL CHECK (visibility IN ('group', 'private')),
    status         TEXT NOT NULL CHECK (status IN ('open', 'decided', 'built')),
    frozen         TEXT NOT NULL CHECK (frozen <> ''),
    frozen_sha256  TEXT NOT NULL CHECK (length(frozen_sha256) = 64),
    revision       INTEGER NOT NULL CHECK (revision >= 1),
    create_time    TEXT NOT NULL,
    update_time    TEXT NOT NULL,
    updated_by     TEXT NOT NULL,
    created_by     TEXT NOT NULL CHECK (created_by <> ''),
    deleted        INTEGER NOT NULL CHECK (deleted IN (0, 1)),
    CHECK (slug_scope = CASE visibility WHEN 'private' THEN created_by ELSE '' END),
    CONSTRAINT shortlist_slug UNIQUE (slug_scope, slug)
) STRICT;

CREATE TABLE shortlist_old_slug (
    slug_scope    TEXT NOT NULL,
    slug          TEXT NOT NULL,
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    PRIMARY KEY (slug_scope, slug)
) STRICT;

CREATE TABLE shortlist_option (
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    position      INTEGER NOT NULL CHECK (position >= 0),
    option_key    TEXT NOT NULL CHECK (option_key <> ''),
    note          TEXT NOT NULL,
    PRIMARY KEY (shortlist_id, position),
    UNIQUE (shortlist_id, option_key)
) STRICT;

CREATE TABLE shortlist_comment (
    id            TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 34),
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    text          TEXT NOT NULL CHECK (text <> ''),
    create_time   TEXT NOT NULL,
    created_by    TEXT NOT NULL CHECK (created_by <> '')
) STRICT;

CREATE INDEX comments_of_shortlist ON shortlist_comment (shortlist_id, id);

CREATE TABLE shortlist_vote (
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    member        TEXT NOT NULL CHECK (member <> ''),
    option_key    TEXT,
    note          TEXT NOT NULL,
    vote_time     TEXT NOT NULL,
    PRIMARY KEY (shortlist_id, member),
    FOREIGN KEY (shortlist_id, option_key) REFERENCES shortlist_option (shortlist_id, option_key)
) STRICT;

CREATE TABLE share_link (
    id            TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    hash          TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
    last_four     TEXT NOT NULL CHECK (length(last_four) = 4),
    create_time   TEXT NOT NULL,
    expire_time   TEXT NOT NULL,
    revoke_time   TEXT,
    created_by    TEXT NOT NULL CHECK (created_by <> '')
) STRICT;

CREATE INDEX links_of_shortlist ON share_link (shortlist_id, id);

CREATE TABLE audit_event (
    id                TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    noun              TEXT NOT NULL CHECK (noun <> ''),
    record_id         TEXT NOT NULL CHECK (length(record_id) BETWEEN 28 AND 40),
    record_revision   INTEGER NOT NULL CHECK (record_revision >= 1),
    catalog_revision  INTEGER NOT NULL CHECK (catalog_revision >= 1),
    action            TEXT NOT NULL CHECK (action IN ('added', 'changed', 'deleted', 'restored')),
    change_time       TEXT NOT NULL,
    changed_by        TEXT NOT NULL,
    reason            TEXT NOT NULL,
    before_json       TEXT,
    after_json        TEXT,
    CONSTRAINT audit_event_before CHECK ((before_json IS NULL) = (action IN ('added', 'restored'))),
    CONSTRAINT audit_event_after CHECK ((after_json IS NULL) = (action = 'deleted'))
) STRICT;

CREATE INDEX audit_event_order ON audit_event (catalog_revision, id);

CREATE INDEX audit_event_record ON audit_event (record_id, catalog_revision, id);

CREATE TRIGGER audit_event_update BEFORE UPDATE ON audit_event
BEGIN SELECT RAISE(ABORT, 'audit events are only ever added'); END;

CREATE TRIGGER audit_event_delete BEFORE DELETE ON audit_event
BEGIN SELECT RAISE(ABORT, 'audit events are only ever added'); END;

CREATE TABLE shortlist_outcome (
    shortlist_id      TEXT NOT NULL PRIMARY KEY REFERENCES shortlist (id),
    option_key        TEXT NOT NULL,
    panels_count      INTEGER NOT NULL CHECK (panels_count >= 1),
    built_date        TEXT NOT NULL CHECK (length(built_date) = 10),
    persons_count     INTEGER CHECK (persons_count >= 1),
    sessions_count    INTEGER CHECK (sessions_count >= 1),
    panel_mass_kg     REAL CHECK (panel_mass_kg > 0),
    leftover_mass_kg  REAL CHECK (leftover_mass_kg >= 0),
    fabric_bought_mm  REAL CHECK (fabric_bought_mm >= 0),
    fabric_used_mm    REAL CHECK (fabric_used_mm >= 0),
    note              TEXT NOT NULL,
    record_time       TEXT NOT NULL,
    recorded_by       TEXT NOT NULL CHECK (recorded_by <> ''),
    FOREIGN KEY (shortlist_id, option_key) REFERENCES shortlist_option (shortlist_id, option_key)
) STRICT;

CREATE TABLE shortlist_outcome_line (
    shortlist_id          TEXT NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    position              INTEGER NOT NULL CHECK (position >= 0),
    what                  TEXT NOT NULL CHECK (what <> ''),
    need                  TEXT NOT NULL,
    paid_micro            INTEGER CHECK (paid_micro >= 0),
    paid_currency         TEXT,
    had_for_nothing       INTEGER NOT NULL CHECK (had_for_nothing IN (0, 1)),
    replacement_micro     INTEGER CHECK (replacement_micro >= 0),
    replacement_currency  TEXT,
    note                  TEXT NOT NULL,
    PRIMARY KEY (shortlist_id, position),
    CHECK ((paid_micro IS NULL) = (paid_currency IS NULL)),
    CHECK ((replacement_micro IS NULL) = (replacement_currency IS NULL)),
    CHECK ((paid_micro IS NULL) = (had_for_nothing = 1))
) STRICT;

CREATE TABLE shortlist_outcome_time (
    shortlist_id  TEXT NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    position      INTEGER NOT NULL CHECK (position >= 0),
    step          TEXT NOT NULL CHECK (step <> ''),
    time_min      REAL NOT NULL CHECK (time_min >= 0),
    PRIMARY KEY (shortlist_id, position),
    UNIQUE (shortlist_id, step)
) STRICT;

CREATE TABLE shortlist_outcome_decay (
    shortlist_id  TEXT NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    measured      TEXT NOT NULL CHECK (measured IN ('before', 'after')),
    octave_hz     INTEGER NOT NULL CHECK (octave_hz IN (125, 250, 500, 1000, 2000, 4000)),
    time_s        REAL NOT NULL CHECK (time_s > 0),
    PRIMARY KEY (shortlist_id, measured, octave_hz)
) STRICT;
