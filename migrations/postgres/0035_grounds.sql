-- +goose Up
-- What another table release, policy or reliability would do to all settled determinations is told before anything is changed. A
-- walk that weighs a million of them anew cannot read a million whole records, so that what they rest on stands here as well, in a
-- compact form: a row of each specimen (submission_id is empty) and of each submission that came before reviewers, written with
-- them and made again by a rebuild. Those of the time before are made from their rows when somebody first asks.
CREATE TABLE grounds (
    specimen_id   text COLLATE "C" NOT NULL,
    submission_id text COLLATE "C" NOT NULL,
    seq           integer NOT NULL CHECK (seq >= 0), -- of the last event that they were made of
    body          bytea   NOT NULL,                  -- empty: still to be made
    PRIMARY KEY (specimen_id, submission_id)
);
INSERT INTO grounds (specimen_id, submission_id, seq, body) SELECT id, '', 0, '' FROM specimens;
INSERT INTO grounds (specimen_id, submission_id, seq, body) SELECT specimen_id, id, 0, '' FROM submissions WHERE opened_at IS NOT NULL;
CREATE INDEX grounds_unmade ON grounds (specimen_id) WHERE length(body) = 0;

-- Which determinations a change would touch, how, and why: a row for each way and cause. A curator picks of them what is reviewed.
CREATE TABLE reassessed (
    change        text COLLATE "C" NOT NULL, -- key of the finding that they belong to
    effect        text COLLATE "C" NOT NULL,
    cause         text COLLATE "C" NOT NULL,
    submission_id text COLLATE "C" NOT NULL,
    p_before      double precision NOT NULL,
    p_after       double precision NOT NULL,
    detail        text COLLATE "C" NOT NULL,
    opened        boolean NOT NULL, -- a review of it was opened for this
    PRIMARY KEY (change, effect, cause, submission_id)
);
