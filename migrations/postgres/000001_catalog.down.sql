-- Takes the catalog away again, with all that is stored in it: export it first.
-- Existing rows: all are lost.

DROP TABLE price;
DROP TABLE offer;
DROP TABLE supplier;
DROP TABLE ready_made_panel;
DROP TABLE part_stock_length;
DROP TABLE part;
DROP TABLE fabric;
DROP TABLE absorption_test;
DROP TABLE fill_size;
DROP TABLE fill;
DROP TABLE band;
DROP TABLE fire_declaration;
DROP TABLE figure;
DROP TABLE source;
DROP TABLE old_slug;
DROP TABLE record;
DROP TABLE catalog_state;
DROP FUNCTION price_only_added();
