-- The audit trail: one event for each stored change of a record, written in the
-- transaction of the change and never changed or deleted. The record before and
-- after it is kept as JSON with the names of the fields of package catalog.
-- Events are in the order of catalog_revision, then id.
--
-- Existing rows: none changes, and nothing is known of their past: the first
-- event of an older record is its next change.

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
