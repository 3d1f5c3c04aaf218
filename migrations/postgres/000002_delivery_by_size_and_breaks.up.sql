-- What delivery by size and lower prices for more packs need: suppliers say which
-- weight their fee counts, offers what volume a pack has, prices from how many
-- packs on they are lower. Breaks belong to their price and are only ever added
-- with it.
--
-- Existing rows: suppliers that deliver charge for the actual weight, and their
-- threshold waives the flat fee alone, as until now; offers have no stated
-- volume; prices have no breaks.

ALTER TABLE supplier ADD COLUMN delivery_weight_basis text COLLATE "C" CHECK (delivery_weight_basis <> '');

ALTER TABLE supplier ADD COLUMN delivery_divisor_cm3_per_kg bigint CHECK (delivery_divisor_cm3_per_kg >= 0);

ALTER TABLE supplier ADD COLUMN delivery_free_covers_weight boolean;

UPDATE supplier SET delivery_weight_basis = 'actual', delivery_divisor_cm3_per_kg = 0, delivery_free_covers_weight = false
WHERE delivery_fee_micro IS NOT NULL;

ALTER TABLE offer ADD COLUMN pack_volume_l double precision NOT NULL DEFAULT 0 CHECK (pack_volume_l BETWEEN 0 AND 1e9);

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
