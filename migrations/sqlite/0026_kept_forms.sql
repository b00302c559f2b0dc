-- +goose Up
-- Whoever sends a form after the login has run out finds it again when logged in: what was typed is kept for a day, for the person
-- whose login it was alone, and is never done by itself.
CREATE TABLE kept_forms (
    id     TEXT NOT NULL PRIMARY KEY,
    person TEXT NOT NULL,
    path   TEXT NOT NULL, -- where it was sent
    body   TEXT NOT NULL CHECK (json_valid(body)), -- its fields
    at     TEXT NOT NULL
) STRICT;
CREATE INDEX kept_forms_person ON kept_forms (person, at, id);
CREATE INDEX kept_forms_at ON kept_forms (at);
