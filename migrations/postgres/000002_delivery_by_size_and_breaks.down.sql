-- Takes delivery by size and lower prices for more packs away again.
-- Existing rows: breaks, volumes and terms of delivery by size are lost.

DROP TABLE price_break;

ALTER TABLE offer DROP COLUMN pack_volume_l;

ALTER TABLE supplier DROP COLUMN delivery_free_covers_weight;

ALTER TABLE supplier DROP COLUMN delivery_divisor_cm3_per_kg;

ALTER TABLE supplier DROP COLUMN delivery_weight_basis;
