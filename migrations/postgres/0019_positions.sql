-- +goose Up
-- Between streams events had no order but that of clocks, which are set back and differ from process to process. So each one
-- has a position among all: 1, 2, 3 and so on, without a gap and never changed, in a table of its own because events are not
-- touched. A sequence would number transactions as they begin, and some are stored late or never; a lock held until the end
-- would make all who write wait for each other's disk. So what is stored waits here, with the transaction that it is of, and
-- one process at a time numbers what lies below the oldest transaction under way (models/sequencer.go): nothing can be added
-- there any more. That an event waits is seen to by the database, whatever program stores it.
LOCK TABLE events IN SHARE ROW EXCLUSIVE MODE;

CREATE TABLE event_positions (
    position bigint           NOT NULL PRIMARY KEY CHECK (position >= 1),
    stream   text COLLATE "C" NOT NULL,
    seq      bigint           NOT NULL
);

CREATE TABLE event_outbox (
    xact   xid8             NOT NULL DEFAULT pg_current_xact_id(),
    stream text COLLATE "C" NOT NULL,
    seq    bigint           NOT NULL,
    PRIMARY KEY (xact, stream, seq)
) WITH (autovacuum_vacuum_scale_factor = 0, autovacuum_vacuum_threshold = 2000); -- nearly all that was ever in it has gone again

-- What was stored before is numbered by its time; where a clock was set back within a stream, by the latest time until then.
INSERT INTO event_positions (position, stream, seq)
SELECT row_number() OVER (ORDER BY at, stream, seq), stream, seq
FROM (SELECT stream, seq, max(at) OVER (PARTITION BY stream ORDER BY seq) AS at FROM events) AS timed
ORDER BY 1;

CREATE UNIQUE INDEX event_positions_event ON event_positions (stream, seq);

-- +goose StatementBegin
CREATE FUNCTION let_events_wait() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO event_outbox (stream, seq) SELECT stream, seq FROM stored;
    RETURN NULL;
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION refuse_position_gap() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.position > 1 AND NOT EXISTS (SELECT 1 FROM event_positions WHERE position = NEW.position - 1) THEN
        RAISE EXCEPTION 'positions of events are given without gaps';
    END IF;
    IF NEW.seq > 1 AND NOT EXISTS (SELECT 1 FROM event_positions WHERE stream = NEW.stream AND seq = NEW.seq - 1) THEN
        RAISE EXCEPTION 'positions of events are given in the order of each stream';
    END IF;
    RETURN NEW;
END
$$;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE FUNCTION refuse_position_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'positions of events are never changed or deleted';
END
$$;
-- +goose StatementEnd

CREATE TRIGGER events_wait AFTER INSERT ON events REFERENCING NEW TABLE AS stored FOR EACH STATEMENT EXECUTE FUNCTION let_events_wait();
CREATE TRIGGER event_positions_refuse_gap BEFORE INSERT ON event_positions FOR EACH ROW EXECUTE FUNCTION refuse_position_gap();
CREATE TRIGGER event_positions_refuse_update BEFORE UPDATE ON event_positions FOR EACH STATEMENT EXECUTE FUNCTION refuse_position_change();
CREATE TRIGGER event_positions_refuse_delete BEFORE DELETE ON event_positions FOR EACH STATEMENT EXECUTE FUNCTION refuse_position_change();
CREATE TRIGGER event_positions_refuse_truncate BEFORE TRUNCATE ON event_positions FOR EACH STATEMENT EXECUTE FUNCTION refuse_position_change();
