-- +goose Up
-- Two more roles: who looks after the collection, and programs that act for themselves. A reviewer may be named for some families,
-- with a space between; none are all. Refresh tokens and tokens of machines are kept as digests alone, and are no events.
-- A wider CHECK changes nothing that is stored, so the text of the schema is changed in place (SQLite, ALTER TABLE, section 7): the
-- table of the events, which may be large and refuses all changes, is not copied.
PRAGMA writable_schema = ON;
UPDATE sqlite_schema SET sql = replace(sql, '''member'', ''reviewer'', ''curator''', '''member'', ''keeper'', ''reviewer'', ''curator'', ''machine''')
    WHERE type = 'table' AND name IN ('events', 'people');
PRAGMA writable_schema = RESET;

ALTER TABLE people ADD COLUMN families TEXT NOT NULL DEFAULT '';

CREATE TABLE refresh_tokens (
    digest     TEXT NOT NULL PRIMARY KEY,
    session    TEXT NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    created_at TEXT NOT NULL,
    used_at    TEXT -- NULL: it can be used once
) STRICT;
CREATE INDEX refresh_tokens_session ON refresh_tokens (session);

CREATE TABLE machine_tokens (
    id         TEXT NOT NULL PRIMARY KEY,
    person     TEXT NOT NULL REFERENCES accounts (person),
    digest     TEXT NOT NULL,
    purpose    TEXT NOT NULL,
    scopes     TEXT NOT NULL,
    created_by TEXT NOT NULL, -- empty: from the command line
    created_at TEXT NOT NULL,
    expires_at TEXT NOT NULL,
    used_at    TEXT,
    revoked_at TEXT
) STRICT;
CREATE INDEX machine_tokens_person ON machine_tokens (person);
