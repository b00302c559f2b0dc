-- +goose Up
-- Sheets of labels that were printed, as their events make them, and each label of them: nobody prints one twice without being told.
-- Two who print the same one at the same time want the same nth printing of it, and the second one hears of the first.
CREATE TABLE sheets (
    id   text COLLATE "C" NOT NULL PRIMARY KEY,
    seq  bigint           NOT NULL CHECK (seq = 1),
    printed_by text COLLATE "C" NOT NULL, -- person
    printed_at timestamptz NOT NULL,
    body text             NOT NULL CHECK (body::json IS NOT NULL)
);
CREATE INDEX sheets_by ON sheets (printed_by, printed_at, id);
CREATE INDEX sheets_at ON sheets (printed_at, id);

CREATE TABLE printed_labels (
    specimen_id    text COLLATE "C" NOT NULL,
    kind           text COLLATE "C" NOT NULL CHECK (kind IN ('locality', 'catalogue', 'determination', 'opinion', 'indet')),
    submission_id  text COLLATE "C" NOT NULL, -- of a slip, else empty
    person         text COLLATE "C" NOT NULL, -- who signs an opinion, or that it cannot be named, else empty
    nth            bigint           NOT NULL CHECK (nth >= 1),
    sheet_id       text COLLATE "C" NOT NULL REFERENCES sheets (id),
    place          text             NOT NULL,
    specimen_seq   bigint           NOT NULL CHECK (specimen_seq >= 1),
    submission_seq bigint           NOT NULL CHECK (submission_seq >= 0),
    PRIMARY KEY (specimen_id, kind, submission_id, person, nth)
);
CREATE INDEX printed_labels_sheet ON printed_labels (sheet_id);
