-- +goose Up
-- Somebody whom the OpenID provider of a museum knows gets into the account that is linked with them: by issuer and subject, never by an
-- address. The link is personal data, stands here alone and goes with its account.
CREATE TABLE provider_logins (
    issuer  text COLLATE "C" NOT NULL,
    subject text COLLATE "C" NOT NULL,
    person  text COLLATE "C" NOT NULL REFERENCES accounts (person),
    made_at timestamptz NOT NULL,
    used_at timestamptz,
    PRIMARY KEY (issuer, subject)
);
CREATE UNIQUE INDEX provider_logins_person ON provider_logins (person, issuer);

-- How a login was begun: empty is by what the person has typed or holds.
ALTER TABLE sessions ADD COLUMN way text COLLATE "C" NOT NULL DEFAULT '' CHECK (way IN ('', 'provider', 'provider-second'));
ALTER TABLE sessions ADD COLUMN proven_at timestamptz; -- when the provider has looked at the person; null: unknown

-- Steps last for ten minutes: who is in the middle of one begins again.
DROP TABLE login_steps;
CREATE TABLE login_steps (
    digest     text COLLATE "C" NOT NULL PRIMARY KEY, -- SHA-256 of the secret that the browser holds
    kind       text COLLATE "C" NOT NULL CHECK (kind IN ('second', 'passkey', 'register', 'provider')),
    person     text COLLATE "C" NOT NULL, -- empty: not known yet
    version    bigint NOT NULL, -- of the account
    ceremony   text COLLATE "C" NOT NULL,
    way        text COLLATE "C" NOT NULL CHECK (way IN ('', 'provider', 'provider-second')),
    proven_at  timestamptz,
    expires_at timestamptz NOT NULL
);
CREATE INDEX login_steps_person ON login_steps (person);
CREATE INDEX login_steps_expire ON login_steps (expires_at);
