-- +goose Up
-- Triggers keep events from being changed by a program, not by somebody who owns the tables. So they are leaves of a Merkle tree
-- whose root is signed now and then: who keeps such a checkpoint elsewhere sees any change of what was before it. The tree is
-- kept as tiles of up to 256 hashes, which can be made again from the events; checkpoints cannot.
CREATE TABLE proof_tree (
    one  integer NOT NULL PRIMARY KEY CHECK (one = 1),
    size bigint  NOT NULL CHECK (size >= 1), -- how many events are in it
    root bytea   NOT NULL CHECK (length(root) = 32)
);

CREATE TABLE proof_tiles (
    level  integer NOT NULL CHECK (level >= 0),
    n      bigint  NOT NULL CHECK (n >= 0),
    hashes bytea   NOT NULL CHECK (length(hashes) BETWEEN 32 AND 8192 AND length(hashes) % 32 = 0),
    PRIMARY KEY (level, n)
);

CREATE TABLE checkpoints (
    size       bigint           NOT NULL PRIMARY KEY CHECK (size >= 1),
    made_at    timestamptz      NOT NULL,
    signed     text COLLATE "C" NOT NULL, -- a note, as it was signed
    public_key text COLLATE "C" NOT NULL
);

-- +goose StatementBegin
CREATE FUNCTION refuse_checkpoint_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'checkpoints are never changed or deleted';
END
$$;
-- +goose StatementEnd

CREATE TRIGGER checkpoints_refuse_update BEFORE UPDATE ON checkpoints FOR EACH STATEMENT EXECUTE FUNCTION refuse_checkpoint_change();
CREATE TRIGGER checkpoints_refuse_delete BEFORE DELETE ON checkpoints FOR EACH STATEMENT EXECUTE FUNCTION refuse_checkpoint_change();
CREATE TRIGGER checkpoints_refuse_truncate BEFORE TRUNCATE ON checkpoints FOR EACH STATEMENT EXECUTE FUNCTION refuse_checkpoint_change();

-- session_replication_role = replica, by which tools for copying switch triggers off, does not switch off these.
ALTER TABLE events ENABLE ALWAYS TRIGGER events_refuse_update;
ALTER TABLE events ENABLE ALWAYS TRIGGER events_refuse_delete;
ALTER TABLE events ENABLE ALWAYS TRIGGER events_refuse_truncate;
ALTER TABLE event_positions ENABLE ALWAYS TRIGGER event_positions_refuse_update;
ALTER TABLE event_positions ENABLE ALWAYS TRIGGER event_positions_refuse_delete;
ALTER TABLE event_positions ENABLE ALWAYS TRIGGER event_positions_refuse_truncate;
ALTER TABLE releases ENABLE ALWAYS TRIGGER releases_refuse_update;
ALTER TABLE releases ENABLE ALWAYS TRIGGER releases_refuse_delete;
ALTER TABLE releases ENABLE ALWAYS TRIGGER releases_refuse_truncate;
ALTER TABLE checkpoints ENABLE ALWAYS TRIGGER checkpoints_refuse_update;
ALTER TABLE checkpoints ENABLE ALWAYS TRIGGER checkpoints_refuse_delete;
ALTER TABLE checkpoints ENABLE ALWAYS TRIGGER checkpoints_refuse_truncate;
