-- +goose Up
-- Somebody whom the OpenID provider of a museum knows gets into the account that is linked with them: by issuer and subject, never by an
-- address. The link is personal data, stands here alone and goes with its account.
CREATE TABLE provider_logins (
    issuer  TEXT NOT NULL,
    subject TEXT NOT NULL,
    person  TEXT NOT NULL REFERENCES accounts (person),
    made_at TEXT NOT NULL,
    used_at TEXT,
    PRIMARY KEY (issuer, subject)
) STRICT;
CREATE UNIQUE INDEX provider_logins_person ON provider_logins (person, issuer);

-- How a login was begun: empty is by what the person has typed or holds.
ALTER TABLE sessions ADD COLUMN way TEXT NOT NULL DEFAULT '' CHECK (way IN ('', 'provider', 'provider-second'));
ALTER TABLE sessions ADD COLUMN proven_at TEXT; -- when the provider has looked at the person; null: unknown

-- Steps last for ten minutes: who is in the middle of one begins again.
DROP TABLE login_steps;
CREATE TABLE login_steps (
    digest     TEXT NOT NULL PRIMARY KEY, -- SHA-256 of the secret that the browser holds
    kind       TEXT NOT NULL CHECK (kind IN ('second', 'passkey', 'register', 'provider')),
    person     TEXT NOT NULL, -- empty: not known yet
    version    INTEGER NOT NULL, -- of the account
    ceremony   TEXT NOT NULL,
    way        TEXT NOT NULL CHECK (way IN ('', 'provider', 'provider-second')),
    proven_at  TEXT,
    expires_at TEXT NOT NULL
) STRICT;
CREATE INDEX login_steps_person ON login_steps (person);
CREATE INDEX login_steps_expire ON login_steps (expires_at);
