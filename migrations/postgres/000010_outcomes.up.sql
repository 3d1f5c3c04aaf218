-- Outcomes: what became of a shortlist, at most one each: the option that was built, the lines
-- really paid, minutes by step, masses, and measured decay times in seconds per octave. NULL
-- stands for what is not known.
--
-- Existing rows: none changes.

CREATE TABLE shortlist_outcome (
    shortlist_id      text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES shortlist (id),
    option_key        text COLLATE "C" NOT NULL,
    panels_count      bigint NOT NULL CHECK (panels_count >= 1),
    built_date        text COLLATE "C" NOT NULL CHECK (length(built_date) = 10),
    persons_count     bigint CHECK (persons_count >= 1),
    sessions_count    bigint CHECK (sessions_count >= 1),
    panel_mass_kg     double precision CHECK (panel_mass_kg > 0),
    leftover_mass_kg  double precision CHECK (leftover_mass_kg >= 0),
    fabric_bought_mm  double precision CHECK (fabric_bought_mm >= 0),
    fabric_used_mm    double precision CHECK (fabric_used_mm >= 0),
    note              text COLLATE "C" NOT NULL,
    record_time       timestamptz(3) NOT NULL,
    recorded_by       text COLLATE "C" NOT NULL CHECK (recorded_by <> ''),
    FOREIGN KEY (shortlist_id, option_key) REFERENCES shortlist_option (shortlist_id, option_key)
);

CREATE TABLE shortlist_outcome_line (
    shortlist_id          text COLLATE "C" NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    position              bigint NOT NULL CHECK (position >= 0),
    what                  text COLLATE "C" NOT NULL CHECK (what <> ''),
    need                  text COLLATE "C" NOT NULL,
    paid_micro            bigint CHECK (paid_micro >= 0),
    paid_currency         text COLLATE "C",
    had_for_nothing       boolean NOT NULL,
    replacement_micro     bigint CHECK (replacement_micro >= 0),
    replacement_currency  text COLLATE "C",
    note                  text COLLATE "C" NOT NULL,
    PRIMARY KEY (shortlist_id, position),
    CHECK ((paid_micro IS NULL) = (paid_currency IS NULL)),
    CHECK ((replacement_micro IS NULL) = (replacement_currency IS NULL)),
    CHECK ((paid_micro IS NULL) = had_for_nothing)
);

CREATE TABLE shortlist_outcome_time (
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    position      bigint NOT NULL CHECK (position >= 0),
    step          text COLLATE "C" NOT NULL CHECK (step <> ''),
    time_min      double precision NOT NULL CHECK (time_min >= 0),
    PRIMARY KEY (shortlist_id, position),
    UNIQUE (shortlist_id, step)
);

CREATE TABLE shortlist_outcome_decay (
    shortlist_id  text COLLATE "C" NOT NULL REFERENCES shortlist_outcome (shortlist_id),
    measured      text COLLATE "C" NOT NULL CHECK (measured IN ('before', 'after')),
    octave_hz     bigint NOT NULL CHECK (octave_hz IN (125, 250, 500, 1000, 2000, 4000)),
    time_s        double precision NOT NULL CHECK (time_s > 0),
    PRIMARY KEY (shortlist_id, measured, octave_hz)
);
