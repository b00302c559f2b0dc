-- +goose Up
-- Whoever is new is offered a first visit of a few steps, can leave it and come back, and is not offered it again once it is finished.
CREATE TABLE visits (
    person      TEXT    NOT NULL PRIMARY KEY,
    step        INTEGER NOT NULL CHECK (step >= 1), -- reached last
    finished_at TEXT
) STRICT;
