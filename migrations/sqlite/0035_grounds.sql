-- +goose Up
-- What another table release, policy or reliability would do to all settled determinations is told before anything is changed. A
-- walk that weighs a million of them anew cannot read a million whole records, so that what they rest on stands here as well, in a
-- compact form: a row of each specimen (submission_id is empty) and of each submission that came before reviewers, written with
-- them and made again by a rebuild. Those of the time before are made from their rows when somebody first asks.
CREATE TABLE grounds (
    specimen_id   TEXT NOT NULL,
    submission_id TEXT NOT NULL,
    seq           INTEGER NOT NULL CHECK (seq >= 0), -- of the last event that they were made of
    body          BLOB    NOT NULL,                  -- empty: still to be made
    PRIMARY KEY (specimen_id, submission_id)
) STRICT, WITHOUT ROWID;
INSERT INTO grounds (specimen_id, submission_id, seq, body) SELECT id, '', 0, x'' FROM specimens;
INSERT INTO grounds (specimen_id, submission_id, seq, body) SELECT specimen_id, id, 0, x'' FROM submissions WHERE opened_at IS NOT NULL;
CREATE INDEX grounds_unmade ON grounds (specimen_id) WHERE length(body) = 0;

-- Which determinations a change would touch, how, and why: a row for each way and cause. A curator picks of them what is reviewed.
CREATE TABLE reassessed (
    change        TEXT NOT NULL, -- key of the finding that they belong to
    effect        TEXT NOT NULL,
    cause         TEXT NOT NULL,
    submission_id TEXT NOT NULL,
    p_before      REAL NOT NULL,
    p_after       REAL NOT NULL,
    detail        TEXT NOT NULL,
    opened        INTEGER NOT NULL CHECK (opened IN (0, 1)), -- a review of it was opened for this
    PRIMARY KEY (change, effect, cause, submission_id)
) STRICT, WITHOUT ROWID;
