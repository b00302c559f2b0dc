-- +goose Up
-- Whether a reliability has taken a specimen in is told by the events, its version at that time was not: 1, or 0 where it waits.
UPDATE testimonies SET learnt = 1 WHERE learnt > 1;
