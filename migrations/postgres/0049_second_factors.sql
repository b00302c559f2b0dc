-- +goose Up
-- What a login asks for beside a password. Public keys of passkeys, secrets of one-time codes, sealed with a key that is not in the
-- database, and digests of recovery codes stand here alone and go with their account; events say that there is one, and no more.
ALTER TABLE accounts ADD COLUMN second_factor boolean NOT NULL DEFAULT false;

CREATE TABLE passkeys (
    id      text COLLATE "C" NOT NULL PRIMARY KEY, -- of the credential, base64url
    person  text COLLATE "C" NOT NULL REFERENCES accounts (person),
    name    text COLLATE "C" NOT NULL,
    record  text COLLATE "C" NOT NULL CHECK (record::json IS NOT NULL),
    made_at timestamptz NOT NULL,
    used_at timestamptz
);
CREATE INDEX passkeys_person ON passkeys (person, made_at, id);

CREATE TABLE code_secrets (
    person       text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES accounts (person),
    sealed       bytea NOT NULL,
    last_step    bigint NOT NULL, -- the last one that was used: no code is used twice
    made_at      timestamptz NOT NULL,
    confirmed_at timestamptz -- null: it counts for nothing yet
);

CREATE TABLE recovery_codes (
    person text COLLATE "C" NOT NULL REFERENCES accounts (person),
    digest text COLLATE "C" NOT NULL, -- SHA-256
    PRIMARY KEY (person, digest)
);

-- Logins that wait for the second factor, and ceremonies of passkeys.
CREATE TABLE login_steps (
    digest     text COLLATE "C" NOT NULL PRIMARY KEY, -- SHA-256 of the secret that the browser holds
    kind       text COLLATE "C" NOT NULL CHECK (kind IN ('second', 'passkey', 'register')),
    person     text COLLATE "C" NOT NULL, -- empty: not known yet
    version    bigint NOT NULL, -- of the account
    ceremony   text COLLATE "C" NOT NULL,
    expires_at timestamptz NOT NULL
);
CREATE INDEX login_steps_person ON login_steps (person);
CREATE INDEX login_steps_expire ON login_steps (expires_at);
