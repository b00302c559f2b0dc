-- +goose Up
-- Whoever is new is offered a first visit of a few steps, can leave it and come back, and is not offered it again once it is finished.
CREATE TABLE visits (
    person      text COLLATE "C" NOT NULL PRIMARY KEY,
    step        integer          NOT NULL CHECK (step >= 1), -- reached last
    finished_at timestamptz
);
