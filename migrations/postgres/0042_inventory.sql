-- +goose Up
-- The table of an old collection is read again in the way that a curator says, until its plan is accepted or gone: so long its file is
-- kept, in parts. A plan is counted, so that nobody accepts another one than was seen.
ALTER TABLE intakes ADD COLUMN plan bigint NOT NULL DEFAULT 0 CHECK (plan >= 0);
CREATE TABLE intake_parts (
    intake_id text COLLATE "C" NOT NULL REFERENCES intakes (id) ON DELETE CASCADE,
    number    bigint NOT NULL CHECK (number >= 0), -- in the order of the file
    body      bytea  NOT NULL,
    PRIMARY KEY (intake_id, number)
);
