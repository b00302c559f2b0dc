-- +goose Up
-- Figures, previews of changed tables and what releases have put in doubt take a walk through a whole collection, which no
-- page can wait for. A job makes them in slices; a row is what the last walk found, dated, and what one under way has found
-- so far. Nothing here is lost for good: every row can be made anew from what it rests on.
CREATE TABLE findings (
    kind       text COLLATE "C" NOT NULL CHECK (kind <> ''),
    group_id   text COLLATE "C" NOT NULL,
    key        text COLLATE "C" NOT NULL, -- which of the kind: for previews the tables before and after
    touched_at timestamptz NOT NULL, -- by a slice of a job
    partial    text CHECK (partial IS NULL OR partial::json IS NOT NULL), -- what a walk under way has found so far
    made_at    timestamptz, -- of the body; null: none was made yet
    spent_us   bigint NOT NULL CHECK (spent_us >= 0), -- time that the body took to make
    peak_bytes bigint NOT NULL CHECK (peak_bytes >= 0), -- most memory that the program had in use while it was made
    body       text CHECK (body IS NULL OR body::json IS NOT NULL),
    PRIMARY KEY (kind, group_id, key),
    CHECK ((made_at IS NULL) = (body IS NULL))
);
CREATE INDEX findings_touched ON findings (kind, touched_at);
