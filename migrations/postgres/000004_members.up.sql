-- Members: each holds tokens, of which only the SHA-256 is kept, and every record
-- tells who added it.
--
-- Existing rows: records count as added by who changed them last, which is all
-- that is known of them; there are no tokens yet.

ALTER TABLE record ADD COLUMN created_by text COLLATE "C" NOT NULL DEFAULT '';

UPDATE record SET created_by = updated_by;

CREATE TABLE member_token (
    id           text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    member       text COLLATE "C" NOT NULL CHECK (member <> ''),
    role         text COLLATE "C" NOT NULL CHECK (role IN ('reader', 'contributor', 'curator', 'admin')),
    scopes       text COLLATE "C" NOT NULL,
    hash         text COLLATE "C" NOT NULL UNIQUE CHECK (length(hash) = 64),
    last_four    text COLLATE "C" NOT NULL CHECK (length(last_four) = 4),
    create_time  timestamptz(3) NOT NULL,
    expire_time  timestamptz(3),
    revoke_time  timestamptz(3),
    created_by   text COLLATE "C" NOT NULL CHECK (created_by <> '')
);
