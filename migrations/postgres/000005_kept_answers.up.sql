-- Kept answers: what was answered to a request with an Idempotency-Key, for the
-- repeat of that request. They are no part of the catalog and go after two days.
--
-- Existing rows: none; what was asked before had no keys.

CREATE TABLE kept_answer (
    scope             text COLLATE "C" NOT NULL CHECK (length(scope) = 64),
    request_key       text COLLATE "C" NOT NULL CHECK (length(request_key) BETWEEN 1 AND 255),
    fingerprint       text COLLATE "C" NOT NULL CHECK (length(fingerprint) = 64),
    status            bigint NOT NULL CHECK (status BETWEEN 200 AND 299),
    etag              text COLLATE "C" NOT NULL,
    location          text COLLATE "C" NOT NULL,
    content_location  text COLLATE "C" NOT NULL,
    content_type      text COLLATE "C" NOT NULL,
    body              text COLLATE "C" NOT NULL,
    create_time       timestamptz(3) NOT NULL,
    PRIMARY KEY (scope, request_key)
);

CREATE INDEX kept_answer_by_time ON kept_answer (create_time);
