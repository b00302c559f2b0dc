-- +goose Up
-- Whoever is new is offered a first visit of a few steps, can leave it and come back, and is not offered it again once it is finished.
CREATE TABLE visits (
    person      TEXT    NOT NULL PRIMARY KEY,
    step        INTEGER NOT NULL CHECK (step >= 1), -- reached last
    finished_at TEXT
) STRICT;

-- Whether somebody has proposed a change of the tables is asked of each home of who may be new.
CREATE INDEX cell_proposals_proposer ON cell_proposals (proposer, id);
