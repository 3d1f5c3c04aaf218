-- Takes the audit trail away again.
-- Existing rows: records stay as they are, all events are lost.

DROP TABLE audit_event;
