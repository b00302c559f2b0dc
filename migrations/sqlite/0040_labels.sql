-- +goose Up
-- Sheets of labels that were printed, as their events make them, and each label of them: nobody prints one twice without being told.
-- Two who print the same one at the same time want the same nth printing of it, and the second one hears of the first.
CREATE TABLE sheets (
    id   TEXT    NOT NULL PRIMARY KEY,
    seq  INTEGER NOT NULL CHECK (seq = 1),
    printed_by TEXT NOT NULL, -- person
    printed_at TEXT NOT NULL,
    body TEXT NOT NULL CHECK (json_valid(body))
) STRICT;
CREATE INDEX sheets_by ON sheets (printed_by, printed_at, id);
CREATE INDEX sheets_at ON sheets (printed_at, id);

CREATE TABLE printed_labels (
    specimen_id    TEXT    NOT NULL,
    kind           TEXT    NOT NULL CHECK (kind IN ('locality', 'catalogue', 'determination', 'opinion', 'indet')),
    submission_id  TEXT    NOT NULL, -- of a slip, else empty
    person         TEXT    NOT NULL, -- who signs an opinion, or that it cannot be named, else empty
    nth            INTEGER NOT NULL CHECK (nth >= 1),
    sheet_id       TEXT    NOT NULL REFERENCES sheets (id),
    place          TEXT    NOT NULL,
    specimen_seq   INTEGER NOT NULL CHECK (specimen_seq >= 1),
    submission_seq INTEGER NOT NULL CHECK (submission_seq >= 0),
    PRIMARY KEY (specimen_id, kind, submission_id, person, nth)
) STRICT;
CREATE INDEX printed_labels_sheet ON printed_labels (sheet_id);
