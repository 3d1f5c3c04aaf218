-- Outcomes: what became of a shortlist, at most one each: the option that was built, the lines
-- really paid, minutes by step, masses, and measured decay times in seconds per octave. NULL
-- stands for what is not known.
--
-- Existing rows: none changes.

CREATE TABLE shortlist_outcome (
    shortlist_id      TEXT NOT NULL PRIMARY KEY REFERENCES shortlist (id),
    option_key        TEXT NOT NULL,
    panels_count      INTEGER NOT NULL CHECK (panels_count >= 1),
    built_date        TEXT NOT NULL CHECK (length(built_date) = 10),
    persons_count     INTEGER CHECK (persons_count >= 1),
    sessions_count    INTEGER CHECK (sessions_count >= 1),
    panel_mass_kg     REAL CHECK (panel_mass_kg > 0),
    leftover_mass_kg  REAL CHECK (leftover_mass_kg >= 0),
    fabric_bought_mm  REAL CHECK (fabric_bought_mm >= 0),
    fabric_used_mm    REAL CHECK (fabric_used_mm >= 0),
    note              TEXT NOT NULL,
    record_time       TEXT NOT NULL,
    recorded_by       TEXT NOT NULL CHECK (recorded_by <> ''),
    FOREIGN KEY (shortlist_id, option_key) REFERENCES shortlist_option (shortlist_id, option_key)
) STRICT;

CREATE TABLE shortlist_outcome_line (
    shortlist_id          TEXT NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    position              INTEGER NOT NULL CHECK (position >= 0),
    what                  TEXT NOT NULL CHECK (what <> ''),
    need                  TEXT NOT NULL,
    paid_micro            INTEGER CHECK (paid_micro >= 0),
    paid_currency         TEXT,
    had_for_nothing       INTEGER NOT NULL CHECK (had_for_nothing IN (0, 1)),
    replacement_micro     INTEGER CHECK (replacement_micro >= 0),
    replacement_currency  TEXT,
    note                  TEXT NOT NULL,
    PRIMARY KEY (shortlist_id, position),
    CHECK ((paid_micro IS NULL) = (paid_currency IS NULL)),
    CHECK ((replacement_micro IS NULL) = (replacement_currency IS NULL)),
    CHECK ((paid_micro IS NULL) = (had_for_nothing = 1))
) STRICT;

CREATE TABLE shortlist_outcome_time (
    shortlist_id  TEXT NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    position      INTEGER NOT NULL CHECK (position >= 0),
    step          TEXT NOT NULL CHECK (step <> ''),
    time_min      REAL NOT NULL CHECK (time_min >= 0),
    PRIMARY KEY (shortlist_id, position),
    UNIQUE (shortlist_id, step)
) STRICT;

CREATE TABLE shortlist_outcome_decay (
    shortlist_id  TEXT NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    measured      TEXT NOT NULL CHECK (measured IN ('before', 'after')),
    octave_hz     INTEGER NOT NULL CHECK (octave_hz IN (125, 250, 500, 1000, 2000, 4000)),
    time_s        REAL NOT NULL CHECK (time_s > 0),
    PRIMARY KEY (shortlist_id, measured, octave_hz)
) STRICT;
