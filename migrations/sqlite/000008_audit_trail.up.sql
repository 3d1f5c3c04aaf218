-- The audit trail: one event for each stored change of a record, written in the
-- transaction of the change and never changed or deleted. The record before and
-- after it is kept as JSON with the names of the fields of package catalog.
-- Events are in the order of catalog_revision, then id.
--
-- Existing rows: none changes, and nothing is known of their past: the first
-- event of an older record is its next change.

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
