-- The whole schema as all migrations in postgres/ leave it, for reading. A test of
-- package store compares it with what they do.

CREATE TABLE catalog_state (
    only_row  bigint NOT NULL PRIMARY KEY CHECK (only_row = 1),
    revision  bigint NOT NULL CHECK (revision >= 0)
);

INSERT INTO catalog_state (only_row, revision) VALUES (1, 0);

CREATE TABLE record (
    id           text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) BETWEEN 28 AND 40),
    noun         text COLLATE "C" NOT NULL CHECK (noun IN ('src', 'fill', 'test', 'fabric', 'part', 'panel', 'sup', 'offer', 'design', 'room', 'rate')),
    slug         text COLLATE "C" NOT NULL CHECK (length(slug) BETWEEN 1 AND 63),
    name         text COLLATE "C" NOT NULL CHECK (name <> ''),
    name_key     text COLLATE "C" NOT NULL CHECK (name_key <> ''),
    revision     bigint NOT NULL CHECK (revision >= 1),
    create_time  timestamptz(3) NOT NULL,
    update_time  timestamptz(3) NOT NULL,
    updated_by   text COLLATE "C" NOT NULL,
    deleted      boolean NOT NULL,
    created_by   text COLLATE "C" NOT NULL DEFAULT '',
    CONSTRAINT record_slug UNIQUE (noun, slug)
);

CREATE UNIQUE INDEX record_name ON record (noun, name_key) WHERE noun NOT IN ('test', 'offer');

CREATE TABLE old_slug (
    noun       text COLLATE "C" NOT NULL,
    slug       text COLLATE "C" NOT NULL,
    record_id  text COLLATE "C" NOT NULL REFERENCES record (id),
    PRIMARY KEY (noun, slug)
);

CREATE TABLE source (
    record_id       text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    citation        text COLLATE "C" NOT NULL,
    observer        text COLLATE "C" NOT NULL,
    published_date  text COLLATE "C" NOT NULL CHECK (length(published_date) IN (0, 10)),
    licence         text COLLATE "C" NOT NULL,
    evidence        text COLLATE "C" NOT NULL CHECK (evidence <> ''),
    invented        boolean NOT NULL,
    note            text COLLATE "C" NOT NULL
);

CREATE TABLE figure (
    record_id  text COLLATE "C" NOT NULL REFERENCES record (id),
    field      text COLLATE "C" NOT NULL,
    value      double precision NOT NULL CHECK (value BETWEEN 0 AND 1e12),
    low        double precision NOT NULL CHECK (low BETWEEN 0 AND value),
    high       double precision NOT NULL CHECK (high = 0 OR high BETWEEN value AND 1e12),
    evidence   text COLLATE "C" NOT NULL CHECK (evidence <> ''),
    source_id  text COLLATE "C" NOT NULL REFERENCES source (record_id),
    basis      text COLLATE "C" NOT NULL,
    PRIMARY KEY (record_id, field)
);

CREATE INDEX figure_source ON figure (source_id);

CREATE TABLE fire_declaration (
    record_id              text COLLATE "C" NOT NULL REFERENCES record (id),
    position               bigint NOT NULL CHECK (position >= 0),
    subject                text COLLATE "C" NOT NULL CHECK (subject <> ''),
    scheme                 text COLLATE "C" NOT NULL CHECK (scheme <> ''),
    code                   text COLLATE "C" NOT NULL,
    flame_spread_index     bigint CHECK (flame_spread_index >= 0),
    smoke_developed_index  bigint CHECK (smoke_developed_index >= 0),
    edition                text COLLATE "C" NOT NULL,
    report                 text COLLATE "C" NOT NULL,
    laboratory             text COLLATE "C" NOT NULL,
    end_use                text COLLATE "C" NOT NULL,
    durability             text COLLATE "C" NOT NULL CHECK (durability <> ''),
    evidence               text COLLATE "C" NOT NULL CHECK (evidence <> ''),
    source_id              text COLLATE "C" NOT NULL REFERENCES source (record_id),
    PRIMARY KEY (record_id, position)
);

CREATE TABLE band (
    record_id  text COLLATE "C" NOT NULL REFERENCES record (id),
    band_hz    bigint NOT NULL CHECK (band_hz BETWEEN 100 AND 5000),
    alpha      double precision NOT NULL CHECK (alpha BETWEEN 0 AND 2),
    PRIMARY KEY (record_id, band_hz)
);

CREATE TABLE fill (
    record_id         text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    family            text COLLATE "C" NOT NULL CHECK (family <> ''),
    form              text COLLATE "C" NOT NULL CHECK (form <> ''),
    handling_profile  text COLLATE "C" NOT NULL CHECK (handling_profile <> ''),
    irritant          text COLLATE "C" NOT NULL CHECK (irritant IN ('yes', 'no', 'unknown')),
    dust              text COLLATE "C" NOT NULL CHECK (dust IN ('yes', 'no', 'unknown')),
    binder            text COLLATE "C" NOT NULL CHECK (binder <> ''),
    moth_treatment    text COLLATE "C" NOT NULL CHECK (moth_treatment <> ''),
    back_tissue       text COLLATE "C" NOT NULL CHECK (back_tissue IN ('yes', 'no', 'unknown')),
    note_q            text COLLATE "C" NOT NULL CHECK (note_q IN ('yes', 'no', 'unknown')),
    note_r            text COLLATE "C" NOT NULL CHECK (note_r IN ('yes', 'no', 'unknown')),
    source_id         text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note              text COLLATE "C" NOT NULL
);

CREATE TABLE fill_size (
    record_id     text COLLATE "C" NOT NULL REFERENCES fill (record_id),
    position      bigint NOT NULL CHECK (position >= 0),
    length_mm     double precision NOT NULL CHECK (length_mm > 0 AND length_mm < 1e6),
    width_mm      double precision NOT NULL CHECK (width_mm > 0 AND width_mm < 1e6),
    thickness_mm  double precision NOT NULL CHECK (thickness_mm > 0 AND thickness_mm < 1e6),
    PRIMARY KEY (record_id, position),
    UNIQUE (record_id, length_mm, width_mm, thickness_mm)
);

CREATE TABLE absorption_test (
    record_id           text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    fill_id             text COLLATE "C" NOT NULL REFERENCES fill (record_id),
    standard            text COLLATE "C" NOT NULL CHECK (standard <> ''),
    mounting_type       text COLLATE "C" NOT NULL CHECK (mounting_type <> ''),
    mounting_suffix_mm  double precision NOT NULL CHECK (mounting_suffix_mm BETWEEN 0 AND 1e6),
    thickness_mm        double precision NOT NULL CHECK (thickness_mm > 0 AND thickness_mm < 1e6),
    air_gap_mm          double precision NOT NULL CHECK (air_gap_mm BETWEEN 0 AND 1e6),
    density_kg_per_m3   double precision NOT NULL CHECK (density_kg_per_m3 BETWEEN 0 AND 1e6),
    band_basis          text COLLATE "C" NOT NULL CHECK (band_basis IN ('third_octave', 'octave')),
    capped_at_one       boolean NOT NULL,
    evidence            text COLLATE "C" NOT NULL CHECK (evidence <> ''),
    source_id           text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note                text COLLATE "C" NOT NULL,
    use                 text COLLATE "C" NOT NULL DEFAULT '' CHECK (use IN ('', 'preferred', 'set_aside')),
    use_note            text COLLATE "C" NOT NULL DEFAULT '' CHECK ((use_note = '') = (use = ''))
);

CREATE INDEX absorption_test_fill ON absorption_test (fill_id);

CREATE TABLE fabric (
    record_id              text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    roll_width_mm          double precision NOT NULL CHECK (roll_width_mm > 0 AND roll_width_mm < 1e6),
    selvedge_mm            double precision NOT NULL CHECK (selvedge_mm BETWEEN 0 AND roll_width_mm),
    air_velocity_mm_per_s  double precision CHECK (air_velocity_mm_per_s > 0 AND air_velocity_mm_per_s < 1e6),
    air_pressure_pa        double precision CHECK (air_pressure_pa > 0 AND air_pressure_pa < 1e6),
    air_evidence           text COLLATE "C" CHECK (air_evidence <> ''),
    air_source_id          text COLLATE "C" REFERENCES source (record_id),
    directional            boolean NOT NULL,
    stretch                text COLLATE "C" NOT NULL CHECK (stretch <> ''),
    source_id              text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note                   text COLLATE "C" NOT NULL,
    CHECK ((air_velocity_mm_per_s IS NULL) = (air_pressure_pa IS NULL)),
    CHECK ((air_velocity_mm_per_s IS NULL) = (air_evidence IS NULL)),
    CHECK ((air_velocity_mm_per_s IS NULL) = (air_source_id IS NULL))
);

CREATE TABLE part (
    record_id             text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    kind                  text COLLATE "C" NOT NULL CHECK (kind <> ''),
    role                  text COLLATE "C" NOT NULL CHECK (role <> ''),
    section_thickness_mm  double precision NOT NULL CHECK (section_thickness_mm BETWEEN 0 AND 1e6),
    section_width_mm      double precision NOT NULL CHECK (section_width_mm BETWEEN 0 AND 1e6),
    uses_per_unit_count   bigint NOT NULL CHECK (uses_per_unit_count >= 0),
    source_id             text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note                  text COLLATE "C" NOT NULL
);

CREATE TABLE part_stock_length (
    record_id  text COLLATE "C" NOT NULL REFERENCES part (record_id),
    position   bigint NOT NULL CHECK (position >= 0),
    length_mm  double precision NOT NULL CHECK (length_mm > 0 AND length_mm < 1e6),
    PRIMARY KEY (record_id, position)
);

CREATE TABLE ready_made_panel (
    record_id        text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    width_mm         double precision NOT NULL CHECK (width_mm > 0 AND width_mm < 1e6),
    height_mm        double precision NOT NULL CHECK (height_mm > 0 AND height_mm < 1e6),
    depth_mm         double precision NOT NULL CHECK (depth_mm > 0 AND depth_mm < 1e6),
    band_basis       text COLLATE "C" NOT NULL CHECK (band_basis IN ('third_octave', 'octave', '')),
    alpha_evidence   text COLLATE "C" NOT NULL,
    alpha_source_id  text COLLATE "C" REFERENCES source (record_id),
    mounting_type    text COLLATE "C" NOT NULL,
    source_id        text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note             text COLLATE "C" NOT NULL
);

CREATE TABLE supplier (
    record_id                    text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    country                      text COLLATE "C" NOT NULL CHECK (length(country) IN (0, 2)),
    region                       text COLLATE "C" NOT NULL,
    currency                     text COLLATE "C" NOT NULL CHECK (length(currency) = 3),
    delivery_fee_micro           bigint CHECK (delivery_fee_micro >= 0),
    delivery_fee_currency        text COLLATE "C",
    delivery_free_from_micro     bigint CHECK (delivery_free_from_micro >= 0),
    delivery_free_from_currency  text COLLATE "C",
    delivery_per_kg_micro        bigint CHECK (delivery_per_kg_micro >= 0),
    delivery_per_kg_currency     text COLLATE "C",
    trip_cost_micro              bigint CHECK (trip_cost_micro >= 0),
    trip_cost_currency           text COLLATE "C",
    source_id                    text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note                         text COLLATE "C" NOT NULL,
    delivery_weight_basis        text COLLATE "C" CHECK (delivery_weight_basis <> ''),
    delivery_divisor_cm3_per_kg  bigint CHECK (delivery_divisor_cm3_per_kg >= 0),
    delivery_free_covers_weight  boolean,
    CHECK ((delivery_fee_micro IS NULL) = (delivery_fee_currency IS NULL)),
    CHECK ((delivery_fee_micro IS NULL) = (delivery_per_kg_micro IS NULL)),
    CHECK ((delivery_per_kg_micro IS NULL) = (delivery_per_kg_currency IS NULL)),
    CHECK ((delivery_free_from_micro IS NULL) = (delivery_free_from_currency IS NULL)),
    CHECK (delivery_free_from_micro IS NULL OR delivery_fee_micro IS NOT NULL),
    CHECK ((trip_cost_micro IS NULL) = (trip_cost_currency IS NULL))
);

CREATE TABLE offer (
    record_id         text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES record (id),
    supplier_id       text COLLATE "C" NOT NULL REFERENCES supplier (record_id),
    item_kind         text COLLATE "C" NOT NULL CHECK (item_kind IN ('fill', 'fabric', 'part', 'ready_made_panel')),
    item_id           text COLLATE "C" NOT NULL REFERENCES record (id),
    size_length_mm    double precision CHECK (size_length_mm > 0),
    size_width_mm     double precision CHECK (size_width_mm > 0),
    thickness_mm      double precision CHECK (thickness_mm > 0),
    stock_length_mm   double precision NOT NULL CHECK (stock_length_mm BETWEEN 0 AND 1e6),
    pack_count        bigint NOT NULL CHECK (pack_count >= 0),
    pack_length_mm    double precision NOT NULL CHECK (pack_length_mm BETWEEN 0 AND 1e7),
    pack_mass_kg      double precision NOT NULL CHECK (pack_mass_kg BETWEEN 0 AND 1e6),
    min_packs_count   bigint NOT NULL CHECK (min_packs_count >= 0),
    max_packs_count   bigint NOT NULL CHECK (max_packs_count >= 0),
    source_id         text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note              text COLLATE "C" NOT NULL,
    pack_volume_l     double precision NOT NULL DEFAULT 0 CHECK (pack_volume_l BETWEEN 0 AND 1e9),
    CHECK ((size_length_mm IS NULL) = (size_width_mm IS NULL)),
    CHECK ((size_length_mm IS NULL) = (thickness_mm IS NULL))
);

CREATE INDEX offer_supplier ON offer (supplier_id);

CREATE INDEX offer_item ON offer (item_id);

CREATE TABLE price (
    id             text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    offer_id       text COLLATE "C" NOT NULL REFERENCES offer (record_id),
    amount_micro   bigint NOT NULL CHECK (amount_micro >= 0),
    currency       text COLLATE "C" NOT NULL CHECK (length(currency) = 3),
    tax_included   boolean NOT NULL,
    tax_rate_bp    bigint NOT NULL CHECK (tax_rate_bp BETWEEN 0 AND 10000),
    observed_date  text COLLATE "C" NOT NULL CHECK (length(observed_date) = 10),
    corrects_id    text COLLATE "C" REFERENCES price (id) CHECK (corrects_id <> id),
    evidence       text COLLATE "C" NOT NULL CHECK (evidence <> ''),
    source_id      text COLLATE "C" NOT NULL REFERENCES source (record_id),
    note           text COLLATE "C" NOT NULL,
    create_time    timestamptz(3) NOT NULL,
    created_by     text COLLATE "C" NOT NULL
);

CREATE INDEX price_offer ON price (offer_id, observed_date);

CREATE INDEX price_corrects ON price (corrects_id);

CREATE FUNCTION price_only_added() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'prices are only ever added' USING ERRCODE = 'restrict_violation'; END $$;

CREATE TRIGGER price_update BEFORE UPDATE OR DELETE ON price
FOR EACH ROW EXECUTE FUNCTION price_only_added();

CREATE TRIGGER price_delete BEFORE TRUNCATE ON price
FOR EACH STATEMENT EXECUTE FUNCTION price_only_added();

CREATE TABLE price_break (
    price_id      text COLLATE "C" NOT NULL REFERENCES price (id),
    from_count    bigint NOT NULL CHECK (from_count >= 2),
    amount_micro  bigint NOT NULL CHECK (amount_micro >= 0),
    PRIMARY KEY (price_id, from_count)
);

CREATE TRIGGER price_break_update BEFORE UPDATE OR DELETE ON price_break
FOR EACH ROW EXECUTE FUNCTION price_only_added();

CREATE TRIGGER price_break_delete BEFORE TRUNCATE ON price_break
FOR EACH STATEMENT EXECUTE FUNCTION price_only_added();

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

CREATE TABLE member_token (
    id           text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    member       text COLLATE "C" NOT NULL CHECK (member <> ''),
    role         text COLLATE "C" NOT NULL CHECK (role IN ('reader', 'contributor', 'curator', 'admin')),
    scopes       text COLLATE "C" NOT NULL,
    hash         text COLLATE "C" NOT NULL UNIQUE CHECK (length(hash) = 64),
    last_four    text COLLATE "C" NOT NULL CHECK (length(last_four) = 4),
    create_time  timestamptz(3) NOT NULL,
    expire_time  timestamptz(3),
    revoke_time  timestamptz(3),
    created_by   text COLLATE "C" NOT NULL CHECK (created_by <> '')
);

CREATE TABLE kept_answer (
    scope             text COLLATE "C" NOT NULL CHECK (length(scope) = 64),
    request_key       text COLLATE "C" NOT NULL CHECK (length(request_key) BETWEEN 1 AND 255),
    fingerprint       text COLLATE "C" NOT NULL CHECK (length(fingerprint) = 64),
    status            bigint NOT NULL CHECK (status BETWEEN 200 AND 299),
    etag              text COLLATE "C" NOT NULL,
    location          text COLLATE "C" NOT NULL,
    content_location  text COLLATE "C" NOT NULL,
    content_type      text COLLATE "C" NOT NULL,
    body              text COLLATE "C" NOT NULL,
    create_time       timestamptz(3) NOT NULL,
    PRIMARY KEY (scope, request_key)
);

CREATE INDEX kept_answer_by_time ON kept_answer (create_time);

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

CREATE TABLE shortlist (
    id             text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    slug_scope     text COLLATE "C" NOT NULL,
    slug           text COLLATE "C" NOT NULL CHECK (length(slug) BETWEEN 1 AND 63),
    name           text COLLATE "C" NOT NULL CHECK (name <> ''),
    name_key       text COLLATE "C" NOT NULL CHECK (name_key <> ''),
    note           text COLLATE "C" NOT NULL,
    visibility     text COLLATE "C" NOT NULL CHECK (visibility IN ('group', 'private')),
    status         text COLLATE "C" NOT NULL CHECK (status IN ('open', 'decided', 'built')),
    frozen         text COLLATE "C" NOT NULL CHECK (frozen <> ''),
    frozen_sha256  text COLLATE "C" NOT NULL CHECK (length(frozen_sha256) = 64),
    revision       bigint NOT NULL CHECK (revision >= 1),
    create_time    timestamptz(3) NOT NULL,
    update_time    timestamptz(3) NOT NULL,
    updated_by     text COLLATE "C" NOT NULL,
    created_by     text COLLATE "C" NOT NULL CHECK (created_by <> ''),
    deleted        boolean NOT NULL,
    CHECK (slug_scope = CASE visibility WHEN 'private' THEN created_by ELSE '' END),
    CONSTRAINT shortlist_slug UNIQUE (slug_scope, slug)
);

CREATE TABLE shortlist_old_slug (
    slug_scope    text COLLATE "C" NOT NULL,
    slug          text COLLATE "C" NOT NULL,
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    PRIMARY KEY (slug_scope, slug)
);

CREATE TABLE shortlist_option (
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    position      bigint NOT NULL CHECK (position >= 0),
    option_key    text COLLATE "C" NOT NULL CHECK (option_key <> ''),
    note          text COLLATE "C" NOT NULL,
    PRIMARY KEY (shortlist_id, position),
    UNIQUE (shortlist_id, option_key)
);

CREATE TABLE shortlist_comment (
    id            text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 34),
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    text          text COLLATE "C" NOT NULL CHECK (text <> ''),
    create_time   timestamptz(3) NOT NULL,
    created_by    text COLLATE "C" NOT NULL CHECK (created_by <> '')
);

CREATE INDEX comments_of_shortlist ON shortlist_comment (shortlist_id, id);

CREATE TABLE shortlist_vote (
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    member        text COLLATE "C" NOT NULL CHECK (member <> ''),
    option_key    text COLLATE "C",
    note          text COLLATE "C" NOT NULL,
    vote_time     timestamptz(3) NOT NULL,
    PRIMARY KEY (shortlist_id, member),
    FOREIGN KEY (shortlist_id, option_key) REFERENCES shortlist_option (shortlist_id, option_key)
);

CREATE TABLE share_link (
    id            text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    hash          text COLLATE "C" NOT NULL UNIQUE CHECK (length(hash) = 64),
    last_four     text COLLATE "C" NOT NULL CHECK (length(last_four) = 4),
    create_time   timestamptz(3) NOT NULL,
    expire_time   timestamptz(3) NOT NULL,
    revoke_time   timestamptz(3),
    created_by    text COLLATE "C" NOT NULL CHECK (created_by <> '')
);

CREATE INDEX links_of_shortlist ON share_link (shortlist_id, id);

CREATE TABLE audit_event (
    id                text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    noun              text COLLATE "C" NOT NULL CHECK (noun <> ''),
    record_id         text COLLATE "C" NOT NULL CHECK (length(record_id) BETWEEN 28 AND 40),
    record_revision   bigint NOT NULL CHECK (record_revision >= 1),
    catalog_revision  bigint NOT NULL CHECK (catalog_revision >= 1),
    action            text COLLATE "C" NOT NULL CHECK (action IN ('added', 'changed', 'deleted', 'restored')),
    change_time       timestamptz(3) NOT NULL,
    changed_by        text COLLATE "C" NOT NULL,
    reason            text COLLATE "C" NOT NULL,
    before_json       text COLLATE "C",
    after_json        text COLLATE "C",
    CONSTRAINT audit_event_before CHECK ((before_json IS NULL) = (action IN ('added', 'restored'))),
    CONSTRAINT audit_event_after CHECK ((after_json IS NULL) = (action = 'deleted'))
);

CREATE INDEX audit_event_order ON audit_event (catalog_revision, id);

CREATE INDEX audit_event_record ON audit_event (record_id, catalog_revision, id);

CREATE FUNCTION audit_event_only_added() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'audit events are only ever added' USING ERRCODE = 'restrict_violation'; END $$;

CREATE TRIGGER audit_event_update BEFORE UPDATE OR DELETE ON audit_event
FOR EACH ROW EXECUTE FUNCTION audit_event_only_added();

CREATE TRIGGER audit_event_delete BEFORE TRUNCATE ON audit_event
FOR EACH STATEMENT EXECUTE FUNCTION audit_event_only_added();

CREATE TABLE shortlist_outcome (
    shortlist_id      text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES shortlist (id),
    option_key        text COLLATE "C" NOT NULL,
    panels_count      bigint NOT NULL CHECK (panels_count >= 1),
    built_date        text COLLATE "C" NOT NULL CHECK (length(built_date) = 10),
    persons_count     bigint CHECK (persons_count >= 1),
    sessions_count    bigint CHECK (sessions_count >= 1),
    panel_mass_kg     double precision CHECK (panel_mass_kg > 0),
    leftover_mass_kg  double precision CHECK (leftover_mass_kg >= 0),
    fabric_bought_mm  double precision CHECK (fabric_bought_mm >= 0),
    fabric_used_mm    double precision CHECK (fabric_used_mm >= 0),
    note              text COLLATE "C" NOT NULL,
    record_time       timestamptz(3) NOT NULL,
    recorded_by       text COLLATE "C" NOT NULL CHECK (recorded_by <> ''),
    FOREIGN KEY (shortlist_id, option_key) REFERENCES shortlist_option (shortlist_id, option_key)
);

CREATE TABLE shortlist_outcome_line (
    shortlist_id          text COLLATE "C" NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    position              bigint NOT NULL CHECK (position >= 0),
    what                  text COLLATE "C" NOT NULL CHECK (what <> ''),
    need                  text COLLATE "C" NOT NULL,
    paid_micro            bigint CHECK (paid_micro >= 0),
    paid_currency         text COLLATE "C",
    had_for_nothing       boolean NOT NULL,
    replacement_micro     bigint CHECK (replacement_micro >= 0),
    replacement_currency  text COLLATE "C",
    note                  text COLLATE "C" NOT NULL,
    PRIMARY KEY (shortlist_id, position),
    CHECK ((paid_micro IS NULL) = (paid_currency IS NULL)),
    CHECK ((replacement_micro IS NULL) = (replacement_currency IS NULL)),
    CHECK ((paid_micro IS NULL) = had_for_nothing)
);

CREATE TABLE shortlist_outcome_time (
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    position      bigint NOT NULL CHECK (position >= 0),
    step          text COLLATE "C" NOT NULL CHECK (step <> ''),
    time_min      double precision NOT NULL CHECK (time_min >= 0),
    PRIMARY KEY (shortlist_id, position),
    UNIQUE (shortlist_id, step)
);

CREATE TABLE shortlist_outcome_decay (
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    measured      text COLLATE "C" NOT NULL CHECK (measured IN ('before', 'after')),
    octave_hz     bigint NOT NULL CHECK (octave_hz IN (125, 250, 500, 1000, 2000, 4000)),
    time_s        double precision NOT NULL CHECK (time_s > 0),
    PRIMARY KEY (shortlist_id, measured, octave_hz)
);
