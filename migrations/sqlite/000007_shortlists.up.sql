-- Shortlists: what was kept of a ranking, with the comments, votes and share links of
-- it. They are no part of the catalog and stand beside the table record, because a slug
-- is unique among those that one member sees: among those of the group (slug_scope is
-- empty), and among the private ones of each member (slug_scope is the member). Else a
-- slug that is taken would tell of a private shortlist. The frozen part is the canonical
-- text of question, answer and records; it never changes. A vote without a key is for
-- none of the options. Of the secret of a share link only the SHA-256 is kept.
--
-- Existing rows: none changes.

CREATE TABLE shortlist (
    id             TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    slug_scope     TEXT NOT NULL,
    slug           TEXT NOT NULL CHECK (length(slug) BETWEEN 1 AND 63),
    name           TEXT NOT NULL CHECK (name <> ''),
    name_key       TEXT NOT NULL CHECK (name_key <> ''),
    note           TEXT NOT NULL,
    visibility     TEXT NOT NULL CHECK (visibility IN ('group', 'private')),
    status         TEXT NOT NULL CHECK (status IN ('open', 'decided', 'built')),
    frozen         TEXT NOT NULL CHECK (frozen <> ''),
    frozen_sha256  TEXT NOT NULL CHECK (length(frozen_sha256) = 64),
    revision       INTEGER NOT NULL CHECK (revision >= 1),
    create_time    TEXT NOT NULL,
    update_time    TEXT NOT NULL,
    updated_by     TEXT NOT NULL,
    created_by     TEXT NOT NULL CHECK (created_by <> ''),
    deleted        INTEGER NOT NULL CHECK (deleted IN (0, 1)),
    CHECK (slug_scope = CASE visibility WHEN 'private' THEN created_by ELSE '' END),
    CONSTRAINT shortlist_slug UNIQUE (slug_scope, slug)
) STRICT;

CREATE TABLE shortlist_old_slug (
    slug_scope    TEXT NOT NULL,
    slug          TEXT NOT NULL,
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    PRIMARY KEY (slug_scope, slug)
) STRICT;

CREATE TABLE shortlist_option (
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    position      INTEGER NOT NULL CHECK (position >= 0),
    option_key    TEXT NOT NULL CHECK (option_key <> ''),
    note          TEXT NOT NULL,
    PRIMARY KEY (shortlist_id, position),
    UNIQUE (shortlist_id, option_key)
) STRICT;

CREATE TABLE shortlist_comment (
    id            TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 34),
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    text          TEXT NOT NULL CHECK (text <> ''),
    create_time   TEXT NOT NULL,
    created_by    TEXT NOT NULL CHECK (created_by <> '')
) STRICT;

CREATE INDEX comments_of_shortlist ON shortlist_comment (shortlist_id, id);

CREATE TABLE shortlist_vote (
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    member        TEXT NOT NULL CHECK (member <> ''),
    option_key    TEXT,
    note          TEXT NOT NULL,
    vote_time     TEXT NOT NULL,
    PRIMARY KEY (shortlist_id, member),
    FOREIGN KEY (shortlist_id, option_key) REFERENCES shortlist_option (shortlist_id, option_key)
) STRICT;

CREATE TABLE share_link (
    id            TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    shortlist_id  TEXT NOT NULL REFERENCES shortlist (id),
    hash          TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
    last_four     TEXT NOT NULL CHECK (length(last_four) = 4),
    create_time   TEXT NOT NULL,
    expire_time   TEXT NOT NULL,
    revoke_time   TEXT,
    created_by    TEXT NOT NULL CHECK (created_by <> '')
) STRICT;

CREATE INDEX links_of_shortlist ON share_link (shortlist_id, id);
