-- +goose Up
-- Between streams events had no order but that of clocks, which are set back. So each one has a position among all: 1, 2, 3
-- and so on, without a gap and never changed, in a table of its own because events are not touched. Writers take turns
-- here, so that it is given in the transaction that stores the event, by the database, whatever program stores it.
CREATE TABLE event_positions (
    position INTEGER PRIMARY KEY CHECK (position >= 1),
    stream   TEXT    NOT NULL,
    seq      INTEGER NOT NULL
) STRICT;

-- What was stored before is numbered by its time; where a clock was set back within a stream, by the latest time until then.
INSERT INTO event_positions (position, stream, seq)
SELECT row_number() OVER (ORDER BY at, stream, seq), stream, seq
FROM (SELECT stream, seq, max(at) OVER (PARTITION BY stream ORDER BY seq) AS at FROM events)
ORDER BY 1;

CREATE UNIQUE INDEX event_positions_event ON event_positions (stream, seq);

-- +goose StatementBegin
CREATE TRIGGER events_take_position AFTER INSERT ON events
BEGIN
    INSERT INTO event_positions (stream, seq) VALUES (NEW.stream, NEW.seq); -- the largest and one: none is ever deleted
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER event_positions_refuse_gap AFTER INSERT ON event_positions
WHEN NEW.position > 1 AND NOT EXISTS (SELECT 1 FROM event_positions WHERE position = NEW.position - 1)
BEGIN
    SELECT RAISE(ABORT, 'positions of events are given without gaps');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER event_positions_refuse_update BEFORE UPDATE ON event_positions
BEGIN
    SELECT RAISE(ABORT, 'positions of events are never changed');
END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER event_positions_refuse_delete BEFORE DELETE ON event_positions
BEGIN
    SELECT RAISE(ABORT, 'positions of events are never deleted');
END;
-- +goose StatementEnd
