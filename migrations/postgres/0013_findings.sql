-- +goose Up
-- Figures, previews of changed tables and what releases have put in doubt take a walk through a whole collection, which no
-- page can wait for. A job makes them in slices; a row is the walk as far as it has come and, dated, what the last one found.
-- Nothing here is lost for good: every row can be made anew from what it rests on.
CREATE TABLE findings (
    kind       text COLLATE "C" NOT NULL CHECK (kind <> ''),
    group_id   text COLLATE "C" NOT NULL,
    key        text COLLATE "C" NOT NULL, -- which of the kind: for previews the tables before and after
    asked_at   timestamptz NOT NULL,
    through    timestamptz, -- of the walk: what was there then; null: none is under way
    place      text NOT NULL, -- how far the walk has come; empty: at the beginning
    looked     bigint NOT NULL CHECK (looked >= 0),
    total      bigint NOT NULL CHECK (total >= 0),
    spent_ms   bigint NOT NULL CHECK (spent_ms >= 0),
    peak_bytes bigint NOT NULL CHECK (peak_bytes >= 0),
    made_at    timestamptz, -- of the body; null: none was made yet
    partial    text CHECK (partial IS NULL OR partial::json IS NOT NULL), -- what the walk has found so far
    body       text CHECK (body IS NULL OR body::json IS NOT NULL),
    PRIMARY KEY (kind, group_id, key),
    CHECK ((made_at IS NULL) = (body IS NULL))
);
CREATE INDEX findings_asked ON findings (kind, asked_at);
