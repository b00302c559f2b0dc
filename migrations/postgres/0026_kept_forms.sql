-- +goose Up
-- Whoever sends a form after the login has run out finds it again when logged in: what was typed is kept for a day, for the person
-- whose login it was alone, and is never done by itself.
CREATE TABLE kept_forms (
    id     text COLLATE "C" NOT NULL PRIMARY KEY,
    person text COLLATE "C" NOT NULL,
    path   text COLLATE "C" NOT NULL, -- where it was sent
    body   text COLLATE "C" NOT NULL CHECK (body::json IS NOT NULL), -- its fields
    at     timestamptz      NOT NULL
);
CREATE INDEX kept_forms_person ON kept_forms (person, at, id);
CREATE INDEX kept_forms_at ON kept_forms (at);
