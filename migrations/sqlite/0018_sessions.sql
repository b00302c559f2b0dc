-- +goose Up
-- A login can be ended by itself, and at once: a token names a session, which is a row, looked at with each request. That
-- ends the tokens that were given before, so that everybody logs in again once. Attempts to log in are counted in a table,
-- for all processes of a club together. An account's epoch ended tokens; what is left of it is the version, which every
-- change of the account raises.
ALTER TABLE accounts RENAME COLUMN epoch TO version;

CREATE TABLE sessions (
    id         TEXT NOT NULL PRIMARY KEY,
    person     TEXT NOT NULL REFERENCES accounts (person),
    created_at TEXT NOT NULL,
    expires_at TEXT NOT NULL
) STRICT;
CREATE INDEX sessions_person ON sessions (person);
CREATE INDEX sessions_expire ON sessions (expires_at);

CREATE TABLE login_attempts (
    key   TEXT    NOT NULL PRIMARY KEY, -- a digest of what is counted: an account, an address, or both together
    until INTEGER NOT NULL              -- microseconds since 1970: when all attempts are forgotten
) STRICT;
CREATE INDEX login_attempts_until ON login_attempts (until);
