-- +goose Up
-- An archive of everything for others is written from a compact form of what leaves the house: a row of each specimen (submission_id is
-- empty) and of each submission that came before reviewers, written with them and made again by a rebuild. Those of the time before are
-- made from their rows when somebody first asks. Nothing that is withheld is in it.
CREATE TABLE extracts (
    specimen_id   text COLLATE "C" NOT NULL,
    submission_id text COLLATE "C" NOT NULL,
    withheld      text COLLATE "C" NOT NULL, -- id of the withheld label data; empty where there are none
    seq           integer NOT NULL CHECK (seq >= 0), -- of the last event that it was made of
    body          bytea   NOT NULL,                  -- empty: still to be made
    PRIMARY KEY (specimen_id, submission_id)
);
INSERT INTO extracts (specimen_id, submission_id, withheld, seq, body) SELECT id, '', '', 0, '' FROM specimens;
INSERT INTO extracts (specimen_id, submission_id, withheld, seq, body) SELECT specimen_id, id, '', 0, '' FROM submissions WHERE opened_at IS NOT NULL;
CREATE INDEX extracts_unmade ON extracts (specimen_id) WHERE length(body) = 0;

-- A specimen that came from elsewhere keeps the identifier that it had there, so that it does not come twice.
ALTER TABLE specimens ADD COLUMN source text COLLATE "C" NOT NULL DEFAULT '';
CREATE INDEX specimens_source ON specimens (source) WHERE source <> '';

-- What a file of somebody else would bring is planned and shown before anything of it is taken in. A plan is of nobody's history and
-- goes after a while; what was taken in stands in the events of its specimens.
CREATE TABLE intakes (
    id    text COLLATE "C" NOT NULL PRIMARY KEY,
    state text        NOT NULL CHECK (state IN ('reading', 'planned', 'accepted', 'undone')),
    at    timestamptz NOT NULL,
    body  text        NOT NULL CHECK (body::json IS NOT NULL)
);
CREATE INDEX intakes_at ON intakes (at, id);
CREATE TABLE intake_rows (
    intake_id   text COLLATE "C" NOT NULL REFERENCES intakes (id) ON DELETE CASCADE,
    number      bigint  NOT NULL CHECK (number >= 1), -- of the row in its file, the first one with data being 1
    specimen_id text COLLATE "C" NOT NULL,            -- that it has become; empty: none
    faults      bigint  NOT NULL CHECK (faults >= 0), -- how much is told of it
    refused     boolean NOT NULL,                     -- it cannot be taken in
    body        text    NOT NULL CHECK (body = '' OR body::json IS NOT NULL), -- empty once it was taken in
    PRIMARY KEY (intake_id, number)
);
CREATE INDEX intake_rows_faults ON intake_rows (intake_id, number) WHERE faults > 0;
