-- +goose Up
-- Figures, previews of changed tables and what releases have put in doubt take a walk through a whole collection, which no
-- page can wait for. A job makes them in slices; a row is the walk as far as it has come and, dated, what the last one found.
-- Nothing here is lost for good: every row can be made anew from what it rests on.
CREATE TABLE findings (
    kind       TEXT NOT NULL CHECK (kind <> ''),
    group_id   TEXT NOT NULL,
    key        TEXT NOT NULL, -- which of the kind: for previews the tables before and after
    asked_at   TEXT NOT NULL,
    through    TEXT, -- of the walk: what was there then; null: none is under way
    place      TEXT NOT NULL, -- how far the walk has come; empty: at the beginning
    looked     INTEGER NOT NULL CHECK (looked >= 0),
    total      INTEGER NOT NULL CHECK (total >= 0),
    spent_ms   INTEGER NOT NULL CHECK (spent_ms >= 0),
    peak_bytes INTEGER NOT NULL CHECK (peak_bytes >= 0),
    made_at    TEXT, -- of the body; null: none was made yet
    partial    TEXT CHECK (partial IS NULL OR json_valid(partial)), -- what the walk has found so far
    body       TEXT CHECK (body IS NULL OR json_valid(body)),
    PRIMARY KEY (kind, group_id, key),
    CHECK ((made_at IS NULL) = (body IS NULL))
) STRICT;
CREATE INDEX findings_asked ON findings (kind, asked_at);
