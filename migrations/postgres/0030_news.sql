-- +goose Up
-- What happened to what concerns somebody was found by looking at everything again: it is told to each person, as codes and ids, and
-- who has read it is told it no more. Rows stand outside the events, of which they are made, and go with their person.
CREATE TABLE news (
    id         text COLLATE "C" NOT NULL PRIMARY KEY, -- of person and event, so that nothing is told twice
    person     text COLLATE "C" NOT NULL, -- who is told
    code       text COLLATE "C" NOT NULL,
    group_id   text COLLATE "C" NOT NULL,
    submission text COLLATE "C" NOT NULL, -- id of what it is about, empty where it is about something else; as the next two
    specimen   text COLLATE "C" NOT NULL,
    proposal   text COLLATE "C" NOT NULL,
    actor      text COLLATE "C" NOT NULL,
    at         timestamptz      NOT NULL,
    about      text COLLATE "C" NOT NULL CHECK (about::json IS NOT NULL),
    read_at    timestamptz
);
CREATE INDEX news_person ON news (person, at, id);
CREATE INDEX news_unread ON news (person, at, id) WHERE read_at IS NULL;
CREATE INDEX news_at ON news (at);
