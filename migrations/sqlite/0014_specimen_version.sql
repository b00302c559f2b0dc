-- +goose Up
-- A confidence rests on the specimen and on all of its submissions, so a decision on one of them must fail where any other
-- has moved since. One number for all of them can be asserted and raised by one statement, which also locks the row: a
-- new submission of the same specimen has to raise it too, so that it cannot slip in unseen. It is the number of
-- events of the specimen and of its submissions, and so a copy of what the events make, as in 0002.
ALTER TABLE specimens ADD COLUMN version INTEGER NOT NULL DEFAULT 0 CHECK (version >= 0);
UPDATE specimens SET version = seq + COALESCE((SELECT sum(s.seq) FROM submissions AS s WHERE s.specimen_id = specimens.id), 0);
