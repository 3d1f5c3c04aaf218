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
    id             text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    slug_scope     text COLLATE "C" NOT NULL,
    slug           text COLLATE "C" NOT NULL CHECK (length(slug) BETWEEN 1 AND 63),
    name           text COLLATE "C" NOT NULL CHECK (name <> ''),
    name_key       text COLLATE "C" NOT NULL CHECK (name_key <> ''),
    note           text COLLATE "C" NOT NULL,
    visibility     text COLLATE "C" NOT NULL CHECK (visibility IN ('group', 'private')),
    status         text COLLATE "C" NOT NULL CHECK (status IN ('open', 'decided', 'built')),
    frozen         text COLLATE "C" NOT NULL CHECK (frozen <> ''),
    frozen_sha256  text COLLATE "C" NOT NULL CHECK (length(frozen_sha256) = 64),
    revision       bigint NOT NULL CHECK (revision >= 1),
    create_time    timestamptz(3) NOT NULL,
    update_time    timestamptz(3) NOT NULL,
    updated_by     text COLLATE "C" NOT NULL,
    created_by     text COLLATE "C" NOT NULL CHECK (created_by <> ''),
    deleted        boolean NOT NULL,
    CHECK (slug_scope = CASE visibility WHEN 'private' THEN created_by ELSE '' END),
    CONSTRAINT shortlist_slug UNIQUE (slug_scope, slug)
);

CREATE TABLE shortlist_old_slug (
    slug_scope    text COLLATE "C" NOT NULL,
    slug          text COLLATE "C" NOT NULL,
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    PRIMARY KEY (slug_scope, slug)
);

CREATE TABLE shortlist_option (
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    position      bigint NOT NULL CHECK (position >= 0),
    option_key    text COLLATE "C" NOT NULL CHECK (option_key <> ''),
    note          text COLLATE "C" NOT NULL,
    PRIMARY KEY (shortlist_id, position),
    UNIQUE (shortlist_id, option_key)
);

CREATE TABLE shortlist_comment (
    id            text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 34),
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    text          text COLLATE "C" NOT NULL CHECK (text <> ''),
    create_time   timestamptz(3) NOT NULL,
    created_by    text COLLATE "C" NOT NULL CHECK (created_by <> '')
);

CREATE INDEX comments_of_shortlist ON shortlist_comment (shortlist_id, id);

CREATE TABLE shortlist_vote (
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    member        text COLLATE "C" NOT NULL CHECK (member <> ''),
    option_key    text COLLATE "C",
    note          text COLLATE "C" NOT NULL,
    vote_time     timestamptz(3) NOT NULL,
    PRIMARY KEY (shortlist_id, member),
    FOREIGN KEY (shortlist_id, option_key) REFERENCES shortlist_option (shortlist_id, option_key)
);

CREATE TABLE share_link (
    id            text COLLATE "C" NOT NULL PRIMARY KEY CHECK (length(id) = 32),
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist (id),
    hash          text COLLATE "C" NOT NULL UNIQUE CHECK (length(hash) = 64),
    last_four     text COLLATE "C" NOT NULL CHECK (length(last_four) = 4),
    create_time   timestamptz(3) NOT NULL,
    expire_time   timestamptz(3) NOT NULL,
    revoke_time   timestamptz(3),
    created_by    text COLLATE "C" NOT NULL CHECK (created_by <> '')
);

CREATE INDEX links_of_shortlist ON share_link (shortlist_id, id);
