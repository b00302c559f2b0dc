-- +goose Up
-- Events are the truth of the whole service: every other row about a specimen, a submission or the policy can be made
-- from them again. So the database itself refuses to change or delete one, whatever program is connected.
-- Names that pages are ordered by compare by code point (COLLATE "C"), as in SQLite, whatever locale the server has.
CREATE TABLE events (
    stream text COLLATE "C" NOT NULL,
    seq    bigint           NOT NULL CHECK (seq >= 1),
    at     timestamptz      NOT NULL,
    actor  text             NOT NULL,
    role   text             NOT NULL CHECK (role IN ('member', 'reviewer', 'curator')),
    kind   text             NOT NULL CHECK (kind <> ''),
    data   text             NOT NULL, -- JSON text, kept byte for byte: jsonb would reorder it
    PRIMARY KEY (stream, seq)
);

-- +goose StatementBegin
CREATE FUNCTION refuse_event_gap() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.seq > 1 AND NOT EXISTS (SELECT 1 FROM events WHERE stream = NEW.stream AND seq = NEW.seq - 1) THEN
        RAISE EXCEPTION 'events of a stream are numbered without gaps';
    END IF;
    RETURN NEW;
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION refuse_event_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'events are never changed or deleted';
END
$$;
-- +goose StatementEnd

CREATE TRIGGER events_refuse_gap BEFORE INSERT ON events FOR EACH ROW EXECUTE FUNCTION refuse_event_gap();
CREATE TRIGGER events_refuse_update BEFORE UPDATE ON events FOR EACH STATEMENT EXECUTE FUNCTION refuse_event_change();
CREATE TRIGGER events_refuse_delete BEFORE DELETE ON events FOR EACH STATEMENT EXECUTE FUNCTION refuse_event_change();
CREATE TRIGGER events_refuse_truncate BEFORE TRUNCATE ON events FOR EACH STATEMENT EXECUTE FUNCTION refuse_event_change();
