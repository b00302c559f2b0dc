-- +goose Up
-- Names, logins, password hashes, exact places and collectors can be erased. Events therefore hold only random ids and
-- salted digests of them, and the values stand here, where nothing keeps a row from being deleted.
CREATE TABLE people (
    id   text COLLATE "C" NOT NULL PRIMARY KEY,
    name text             NOT NULL, -- empty: erased
    role text             NOT NULL CHECK (role IN ('', 'member', 'reviewer', 'curator')) -- empty: without an account
);

CREATE TABLE accounts (
    person        text COLLATE "C" NOT NULL PRIMARY KEY REFERENCES people (id),
    login         text COLLATE "C" NOT NULL UNIQUE CHECK (login <> '' AND login = lower(login)),
    password_hash text             NOT NULL,
    epoch         bigint           NOT NULL CHECK (epoch >= 0),
    disabled      boolean          NOT NULL,
    created_at    timestamptz      NOT NULL
);

CREATE TABLE withheld (
    id     text COLLATE "C" NOT NULL PRIMARY KEY,
    digest text             NOT NULL,
    salt   bytea            NOT NULL,
    body   text             NOT NULL -- JSON text as it was sealed, byte for byte
);
