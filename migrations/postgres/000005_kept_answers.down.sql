-- Takes kept answers away again.
-- Existing rows: they are lost; a request that is repeated afterwards is a new one.

DROP TABLE kept_answer;
