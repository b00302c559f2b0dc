-- +goose Up
-- Figures, previews of changed tables and what releases have put in doubt take a walk through a whole collection, which no
-- page can wait for. A job makes them in slices; a row is what the last walk found, dated, and what one under way has found
-- so far. Nothing here is lost for good: every row can be made anew from what it rests on.
CREATE TABLE findings (
    kind       TEXT NOT NULL CHECK (kind <> ''),
    group_id   TEXT NOT NULL,
    key        TEXT NOT NULL, -- which of the kind: for previews the tables before and after
    touched_at TEXT NOT NULL, -- by a slice of a job
    partial    TEXT CHECK (partial IS NULL OR json_valid(partial)), -- what a walk under way has found so far
    made_at    TEXT, -- of the body; null: none was made yet
    spent_us   INTEGER NOT NULL CHECK (spent_us >= 0), -- time that the body took to make
    peak_bytes INTEGER NOT NULL CHECK (peak_bytes >= 0), -- most memory that the program had in use while it was made
    body       TEXT CHECK (body IS NULL OR json_valid(body)),
    PRIMARY KEY (kind, group_id, key),
    CHECK ((made_at IS NULL) = (body IS NULL))
) STRICT;
CREATE INDEX findings_touched ON findings (kind, touched_at);
