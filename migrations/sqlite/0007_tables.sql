-- +goose Up
-- A club publishes tables of its own, and every assessment names the hash of those it was made with. So a release is
-- kept for ever with all of its files, which are too much for an event: the event holds the hash, and it ties the two
-- together. As with events the database itself refuses to change or delete one.
CREATE TABLE releases (
    hash      TEXT    NOT NULL PRIMARY KEY,
    group_id  TEXT    NOT NULL CHECK (group_id <> ''),
    version   TEXT    NOT NULL CHECK (version <> ''),
    seq       INTEGER NOT NULL CHECK (seq >= 1), -- of the event in the group's stream
    publisher TEXT    NOT NULL,
    at        TEXT    NOT NULL,
    body      TEXT    NOT NULL CHECK (json_valid(body)),
    files     TEXT    NOT NULL CHECK (json_valid(files)), -- JSON: text by name; last, so that lists need not pass over it
    UNIQUE (group_id, seq),
    UNIQUE (group_id, version)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER releases_refuse_update BEFORE UPDATE ON releases
BEGIN
    SELECT RAISE(ABORT, 'releases are never changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER releases_refuse_delete BEFORE DELETE ON releases
BEGIN
    SELECT RAISE(ABORT, 'releases are never deleted');
END;
-- +goose StatementEnd

-- Copies of what the events make, as in 0002.
CREATE TABLE cell_proposals (
    id       TEXT    NOT NULL PRIMARY KEY,
    seq      INTEGER NOT NULL CHECK (seq >= 1),
    group_id TEXT    NOT NULL,
    status   TEXT    NOT NULL CHECK (status IN ('open', 'approved', 'refused', 'withdrawn', 'released')),
    proposer TEXT    NOT NULL,
    at       TEXT    NOT NULL, -- when it was proposed
    body     TEXT    NOT NULL CHECK (json_valid(body))
) STRICT;
CREATE INDEX cell_proposals_group ON cell_proposals (group_id, at, id);
CREATE INDEX cell_proposals_status ON cell_proposals (group_id, status, at, id);
