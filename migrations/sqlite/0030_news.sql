-- +goose Up
-- What happened to what concerns somebody was found by looking at everything again: it is told to each person, as codes and ids, and
-- who has read it is told it no more. Rows stand outside the events, of which they are made, and go with their person.
CREATE TABLE news (
    id         TEXT NOT NULL PRIMARY KEY, -- of person and event, so that nothing is told twice
    person     TEXT NOT NULL, -- who is told
    code       TEXT NOT NULL,
    group_id   TEXT NOT NULL,
    submission TEXT NOT NULL, -- id of what it is about, empty where it is about something else; as the next two
    specimen   TEXT NOT NULL,
    proposal   TEXT NOT NULL,
    actor      TEXT NOT NULL,
    at         TEXT NOT NULL,
    about      TEXT NOT NULL CHECK (json_valid(about)),
    read_at    TEXT
) STRICT;
CREATE INDEX news_person ON news (person, at, id);
CREATE INDEX news_unread ON news (person, at, id) WHERE read_at IS NULL;
CREATE INDEX news_at ON news (at);
