-- +goose Up
-- What pages ask for has to be found without replaying events. These rows are copies of what the events make and may be
-- made again from them at any time: body is the whole value as JSON, the other columns are what queries look at.
-- Label data stand in specimens alone, so that a corrected label shows in every list at once.
CREATE TABLE specimens (
    id               TEXT    NOT NULL PRIMARY KEY,
    seq              INTEGER NOT NULL CHECK (seq >= 1),
    owner            TEXT    NOT NULL,
    catalogue_number TEXT    NOT NULL,
    trip             TEXT    NOT NULL,
    storage_place    TEXT    NOT NULL,
    search           TEXT    NOT NULL, -- catalogue number without case
    body             TEXT    NOT NULL CHECK (json_valid(body))
) STRICT;
CREATE INDEX specimens_trip ON specimens (trip) WHERE trip <> '';
CREATE INDEX specimens_storage_place ON specimens (storage_place) WHERE storage_place <> '';

CREATE TABLE submissions (
    id              TEXT    NOT NULL PRIMARY KEY,
    seq             INTEGER NOT NULL CHECK (seq >= 1),
    specimen_id     TEXT    NOT NULL REFERENCES specimens (id),
    owner           TEXT    NOT NULL,
    status          TEXT    NOT NULL CHECK (status IN ('draft', 'open', 'returned', 'confirmed', 'redetermined', 'undetermined', 'withdrawn')),
    family          TEXT    NOT NULL,
    scientific_name TEXT    NOT NULL,
    qualifier       TEXT    NOT NULL CHECK (qualifier IN ('', '?', 'cf.', 'aff.')),
    search          TEXT    NOT NULL, -- family and scientific name without case
    confidence      REAL    NOT NULL CHECK (confidence BETWEEN 0 AND 1),
    leading_family  TEXT    NOT NULL,
    contradictions  INTEGER NOT NULL CHECK (contradictions >= 0),
    photo           TEXT    NOT NULL,
    reviewers       INTEGER NOT NULL CHECK (reviewers >= 0),
    gain            REAL    NOT NULL CHECK (gain BETWEEN 0 AND 1), -- bits
    drafted_at      TEXT    NOT NULL,
    changed_at      TEXT    NOT NULL,
    opened_at       TEXT,
    opened_unix     REAL, -- opened_at in seconds since 1970, for arithmetic
    hold_by         TEXT    NOT NULL,
    hold_until      TEXT,
    body            TEXT    NOT NULL CHECK (json_valid(body)),
    CHECK ((opened_at IS NULL) = (opened_unix IS NULL)),
    CHECK (status <> 'open' OR opened_at IS NOT NULL),
    CHECK (status <> 'draft' OR opened_at IS NULL),
    CHECK ((hold_by = '') = (hold_until IS NULL))
) STRICT;
CREATE INDEX submissions_changed ON submissions (changed_at, id);
CREATE INDEX submissions_status ON submissions (status, changed_at, id);
CREATE INDEX submissions_owner ON submissions (owner, changed_at, id);
CREATE INDEX submissions_family ON submissions (family, changed_at, id);
CREATE INDEX submissions_specimen ON submissions (specimen_id, drafted_at, id);
CREATE INDEX submissions_doubtful ON submissions (changed_at, id) WHERE contradictions > 0;
CREATE INDEX submissions_queue ON submissions (family) WHERE status = 'open';

CREATE TABLE policies (
    version INTEGER NOT NULL PRIMARY KEY CHECK (version >= 1),
    body    TEXT    NOT NULL CHECK (json_valid(body))
) STRICT;
