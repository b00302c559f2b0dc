-- +goose Up
-- A beginner's first fifty submissions go to one mentor as a series. Copies of what the events make, as in 0002. A member has one
-- series in life: two that are begun at the same time are one.
CREATE TABLE series (
    id         text COLLATE "C" NOT NULL PRIMARY KEY,
    seq        bigint           NOT NULL CHECK (seq >= 1),
    member     text COLLATE "C" NOT NULL UNIQUE,
    mentor     text COLLATE "C" NOT NULL, -- empty while it waits for one
    status     text             NOT NULL CHECK (status IN ('waiting', 'running', 'ended', 'left')),
    begun_at   timestamptz      NOT NULL,
    changed_at timestamptz      NOT NULL,
    body       text             NOT NULL CHECK (body::json IS NOT NULL)
);
CREATE INDEX series_mentor ON series (mentor, changed_at, id);
CREATE INDEX series_waiting ON series (begun_at, id) WHERE status = 'waiting';

-- What belongs to a series stands in no queue, but in a list of its mentor; what waits there long is told to curators.
ALTER TABLE submissions ADD COLUMN series text COLLATE "C" NOT NULL DEFAULT '';
CREATE INDEX submissions_series ON submissions (series, changed_at, id) WHERE series <> '';
CREATE INDEX submissions_late ON submissions (status, opened_at, id) WHERE series <> '';
