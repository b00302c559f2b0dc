-- +goose Up
-- A club publishes tables of its own, and every assessment names the hash of those it was made with. So a release is
-- kept for ever with all of its files, which are too much for an event: the event holds the hash, and it ties the two
-- together. As with events the database itself refuses to change or delete one.
CREATE TABLE releases (
    hash      text COLLATE "C" NOT NULL PRIMARY KEY,
    group_id  text             NOT NULL CHECK (group_id <> ''),
    version   text             NOT NULL CHECK (version <> ''),
    seq       bigint           NOT NULL CHECK (seq >= 1), -- of the event in the group's stream
    publisher text             NOT NULL,
    at        timestamptz      NOT NULL,
    body      text             NOT NULL CHECK (body::json IS NOT NULL),
    files     text             NOT NULL CHECK (files::json IS NOT NULL), -- JSON: text by name
    UNIQUE (group_id, seq),
    UNIQUE (group_id, version)
);

-- +goose StatementBegin
CREATE FUNCTION refuse_release_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'releases are never changed or deleted';
END
$$;
-- +goose StatementEnd

CREATE TRIGGER releases_refuse_update BEFORE UPDATE ON releases FOR EACH STATEMENT EXECUTE FUNCTION refuse_release_change();
CREATE TRIGGER releases_refuse_delete BEFORE DELETE ON releases FOR EACH STATEMENT EXECUTE FUNCTION refuse_release_change();
CREATE TRIGGER releases_refuse_truncate BEFORE TRUNCATE ON releases FOR EACH STATEMENT EXECUTE FUNCTION refuse_release_change();

-- Copies of what the events make, as in 0002.
CREATE TABLE cell_proposals (
    id       text COLLATE "C" NOT NULL PRIMARY KEY,
    seq      bigint           NOT NULL CHECK (seq >= 1),
    group_id text             NOT NULL,
    status   text             NOT NULL CHECK (status IN ('open', 'approved', 'refused', 'withdrawn', 'released')),
    proposer text             NOT NULL,
    at       timestamptz      NOT NULL, -- when it was proposed
    body     text             NOT NULL CHECK (body::json IS NOT NULL)
);
CREATE INDEX cell_proposals_group ON cell_proposals (group_id, at, id);
CREATE INDEX cell_proposals_status ON cell_proposals (group_id, status, at, id);
