-- Members: each holds tokens, of which only the SHA-256 is kept, and every record
-- tells who added it.
--
-- Existing rows: records count as added by who changed them last, which is all
-- that is known of them; there are no tokens yet.

ALTER TABLE record ADD COLUMN created_by TEXT NOT NULL DEFAULT '';

UPDATE record SET created_by = updated_by;

CREATE TABLE member_token (
    id           TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    member       TEXT NOT NULL CHECK (member <> ''),
    role         TEXT NOT NULL CHECK (role IN ('reader', 'contributor', 'curator', 'admin')),
    scopes       TEXT NOT NULL,
    hash         TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
    last_four    TEXT NOT NULL CHECK (length(last_four) = 4),
    create_time  TEXT NOT NULL,
    expire_time  TEXT,
    revoke_time  TEXT,
    created_by   TEXT NOT NULL CHECK (created_by <> '')
) STRICT;
