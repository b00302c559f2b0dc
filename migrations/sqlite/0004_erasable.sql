-- +goose Up
-- Names, logins, password hashes, exact places and collectors can be erased. Events therefore hold only random ids and
-- salted digests of them, and the values stand here, where nothing keeps a row from being deleted.
CREATE TABLE people (
    id   TEXT NOT NULL PRIMARY KEY,
    name TEXT NOT NULL, -- empty: erased
    role TEXT NOT NULL CHECK (role IN ('', 'member', 'reviewer', 'curator')) -- empty: without an account
) STRICT;

CREATE TABLE accounts (
    person        TEXT    NOT NULL PRIMARY KEY REFERENCES people (id),
    login         TEXT    NOT NULL UNIQUE CHECK (login <> '' AND login = lower(login)),
    password_hash TEXT    NOT NULL,
    epoch         INTEGER NOT NULL CHECK (epoch >= 0),
    disabled      INTEGER NOT NULL CHECK (disabled IN (0, 1)),
    created_at    TEXT    NOT NULL
) STRICT;

CREATE TABLE withheld (
    id     TEXT NOT NULL PRIMARY KEY,
    digest TEXT NOT NULL,
    salt   BLOB NOT NULL,
    body   TEXT NOT NULL -- JSON text as it was sealed, byte for byte
) STRICT;
