-- Which of several tests of one fill is used: '' counts as any other, 'preferred' goes before
-- others that fit as well, 'set_aside' is never used. Both words need a reason.
--
-- Existing rows: all count as any other, as until now.

ALTER TABLE absorption_test ADD COLUMN use text COLLATE "C" NOT NULL DEFAULT '' CHECK (use IN ('', 'preferred', 'set_aside'));

ALTER TABLE absorption_test ADD COLUMN use_note text COLLATE "C" NOT NULL DEFAULT '' CHECK ((use_note = '') = (use = ''));
