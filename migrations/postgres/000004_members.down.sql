-- Takes members away again.
-- Existing rows: tokens are lost, and so is who added a record; who changed it
-- last stays.

DROP TABLE member_token;

ALTER TABLE record DROP COLUMN created_by;
