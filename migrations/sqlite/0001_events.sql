-- +goose Up
-- Events are the truth of the whole service: every other row about a specimen, a submission or the policy can be made
-- from them again. So the database itself refuses to change or delete one, whatever program is connected.
-- INSERT OR REPLACE deletes without asking a trigger unless the connection sets PRAGMA recursive_triggers = ON.
CREATE TABLE events (
    stream TEXT    NOT NULL,
    seq    INTEGER NOT NULL CHECK (seq >= 1),
    at     TEXT    NOT NULL,
    actor  TEXT    NOT NULL,
    role   TEXT    NOT NULL CHECK (role IN ('member', 'reviewer', 'curator')),
    kind   TEXT    NOT NULL CHECK (kind <> ''),
    data   TEXT    NOT NULL, -- JSON text, kept byte for byte
    PRIMARY KEY (stream, seq)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER events_refuse_gap BEFORE INSERT ON events
WHEN NEW.seq > 1 AND NOT EXISTS (SELECT 1 FROM events WHERE stream = NEW.stream AND seq = NEW.seq - 1)
BEGIN
    SELECT RAISE(ABORT, 'events of a stream are numbered without gaps');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER events_refuse_update BEFORE UPDATE ON events
BEGIN
    SELECT RAISE(ABORT, 'events are never changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER events_refuse_delete BEFORE DELETE ON events
BEGIN
    SELECT RAISE(ABORT, 'events are never deleted');
END;
-- +goose StatementEnd
