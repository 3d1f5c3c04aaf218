-- Kept answers: what was answered to a request with an Idempotency-Key, for the
-- repeat of that request. They are no part of the catalog and go after two days.
--
-- Existing rows: none; what was asked before had no keys.

CREATE TABLE kept_answer (
    scope             TEXT NOT NULL CHECK (length(scope) = 64),
    request_key       TEXT NOT NULL CHECK (length(request_key) BETWEEN 1 AND 255),
    fingerprint       TEXT NOT NULL CHECK (length(fingerprint) = 64),
    status            INTEGER NOT NULL CHECK (status BETWEEN 200 AND 299),
    etag              TEXT NOT NULL,
    location          TEXT NOT NULL,
    content_location  TEXT NOT NULL,
    content_type      TEXT NOT NULL,
    body              TEXT NOT NULL,
    create_time       TEXT NOT NULL,
    PRIMARY KEY (scope, request_key)
) STRICT;

CREATE INDEX kept_answer_by_time ON kept_answer (create_time);
