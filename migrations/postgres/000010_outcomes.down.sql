-- Takes outcomes away again.
-- Existing rows: what was recorded after building is lost; shortlists stay as they are.

DROP TABLE shortlist_outcome_decay;

DROP TABLE shortlist_outcome_time;

DROP TABLE shortlist_outcome_line;

DROP TABLE shortlist_outcome;
