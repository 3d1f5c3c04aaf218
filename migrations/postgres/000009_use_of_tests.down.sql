-- Takes away which of several tests is used.
-- Existing rows: the marks and their reasons are lost, and all tests count alike again.

ALTER TABLE absorption_test DROP COLUMN use_note;

ALTER TABLE absorption_test DROP COLUMN use;
