-- +goose Up
-- Triggers keep events from being changed by a program, not by somebody who has the file. So they are leaves of a Merkle tree
-- whose root is signed now and then: who keeps such a checkpoint elsewhere sees any change of what was before it. The tree is
-- kept as tiles of up to 256 hashes, which can be made again from the events; checkpoints cannot.
CREATE TABLE proof_tree (
    one  INTEGER PRIMARY KEY CHECK (one = 1),
    size INTEGER NOT NULL CHECK (size >= 1), -- how many events are in it
    root BLOB    NOT NULL CHECK (length(root) = 32)
) STRICT;

CREATE TABLE proof_tiles (
    level  INTEGER NOT NULL CHECK (level >= 0),
    n      INTEGER NOT NULL CHECK (n >= 0),
    hashes BLOB    NOT NULL CHECK (length(hashes) BETWEEN 32 AND 8192 AND length(hashes) % 32 = 0),
    PRIMARY KEY (level, n)
) STRICT;

CREATE TABLE checkpoints (
    size       INTEGER PRIMARY KEY CHECK (size >= 1),
    made_at    TEXT NOT NULL,
    signed     TEXT NOT NULL, -- a note, as it was signed
    public_key TEXT NOT NULL
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER checkpoints_refuse_update BEFORE UPDATE ON checkpoints
BEGIN
    SELECT RAISE(ABORT, 'checkpoints are never changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER checkpoints_refuse_delete BEFORE DELETE ON checkpoints
BEGIN
    SELECT RAISE(ABORT, 'checkpoints are never deleted');
END;
-- +goose StatementEnd

-- INSERT OR REPLACE asks no DELETE trigger on a connection that has not set recursive_triggers, and any program can open the
-- file. It does ask those that come before an INSERT. Their last words are those of a constraint, by which a lost race is known.
-- +goose StatementBegin
CREATE TRIGGER checkpoints_refuse_replace BEFORE INSERT ON checkpoints
WHEN EXISTS (SELECT 1 FROM checkpoints WHERE size = NEW.size)
BEGIN
    SELECT RAISE(ABORT, 'checkpoints are never replaced: UNIQUE constraint failed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER events_refuse_replace BEFORE INSERT ON events
WHEN EXISTS (SELECT 1 FROM events WHERE stream = NEW.stream AND seq = NEW.seq)
BEGIN
    SELECT RAISE(ABORT, 'events are never replaced: UNIQUE constraint failed');
END;
-- +goose StatementEnd

-- A position is the table's own key, so that NEW.position is -1 here where it is still to be given.
-- +goose StatementBegin
CREATE TRIGGER event_positions_refuse_replace BEFORE INSERT ON event_positions
WHEN EXISTS (SELECT 1 FROM event_positions WHERE position = NEW.position)
  OR EXISTS (SELECT 1 FROM event_positions WHERE stream = NEW.stream AND seq = NEW.seq)
BEGIN
    SELECT RAISE(ABORT, 'positions of events are never replaced: UNIQUE constraint failed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER releases_refuse_replace BEFORE INSERT ON releases
WHEN EXISTS (SELECT 1 FROM releases WHERE hash = NEW.hash)
  OR EXISTS (SELECT 1 FROM releases WHERE group_id = NEW.group_id AND (seq = NEW.seq OR version = NEW.version))
BEGIN
    SELECT RAISE(ABORT, 'releases are never replaced: UNIQUE constraint failed');
END;
-- +goose StatementEnd
