-- +goose Up
-- What a login asks for beside a password. Public keys of passkeys, secrets of one-time codes, sealed with a key that is not in the
-- database, and digests of recovery codes stand here alone and go with their account; events say that there is one, and no more.
ALTER TABLE accounts ADD COLUMN second_factor INTEGER NOT NULL DEFAULT 0 CHECK (second_factor IN (0, 1));

CREATE TABLE passkeys (
    id      TEXT NOT NULL PRIMARY KEY, -- of the credential, base64url
    person  TEXT NOT NULL REFERENCES accounts (person),
    name    TEXT NOT NULL,
    record  TEXT NOT NULL CHECK (json_valid(record)),
    made_at TEXT NOT NULL,
    used_at TEXT
) STRICT;
CREATE INDEX passkeys_person ON passkeys (person, made_at, id);

CREATE TABLE code_secrets (
    person       TEXT NOT NULL PRIMARY KEY REFERENCES accounts (person),
    sealed       BLOB NOT NULL,
    last_step    INTEGER NOT NULL, -- the last one that was used: no code is used twice
    made_at      TEXT NOT NULL,
    confirmed_at TEXT -- null: it counts for nothing yet
) STRICT;

CREATE TABLE recovery_codes (
    person TEXT NOT NULL REFERENCES accounts (person),
    digest TEXT NOT NULL, -- SHA-256
    PRIMARY KEY (person, digest)
) STRICT;

-- Logins that wait for the second factor, and ceremonies of passkeys.
CREATE TABLE login_steps (
    digest     TEXT NOT NULL PRIMARY KEY, -- SHA-256 of the secret that the browser holds
    kind       TEXT NOT NULL CHECK (kind IN ('second', 'passkey', 'register')),
    person     TEXT NOT NULL, -- empty: not known yet
    version    INTEGER NOT NULL, -- of the account
    ceremony   TEXT NOT NULL,
    expires_at TEXT NOT NULL
) STRICT;
CREATE INDEX login_steps_person ON login_steps (person);
CREATE INDEX login_steps_expire ON login_steps (expires_at);
