-- What delivery by size and lower prices for more packs need: suppliers say which
-- weight their fee counts, offers what volume a pack has, prices from how many
-- packs on they are lower. Breaks belong to their price and are only ever added
-- with it.
--
-- Existing rows: suppliers that deliver charge for the actual weight, and their
-- threshold waives the flat fee alone, as until now; offers have no stated
-- volume; prices have no breaks.

ALTER TABLE supplier ADD COLUMN delivery_weight_basis TEXT CHECK (delivery_weight_basis <> '');

ALTER TABLE supplier ADD COLUMN delivery_divisor_cm3_per_kg INTEGER CHECK (delivery_divisor_cm3_per_kg >= 0);

ALTER TABLE supplier ADD COLUMN delivery_free_covers_weight INTEGER CHECK (delivery_free_covers_weight IN (0, 1));

UPDATE supplier SET delivery_weight_basis = 'actual', delivery_divisor_cm3_per_kg = 0, delivery_free_covers_weight = 0
WHERE delivery_fee_micro IS NOT NULL;

ALTER TABLE offer ADD COLUMN pack_volume_l REAL NOT NULL DEFAULT 0 CHECK (pack_volume_l BETWEEN 0 AND 1e9);

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
