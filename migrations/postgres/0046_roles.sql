-- +goose Up
-- Two more roles: who looks after the collection, and programs that act for themselves. A reviewer may be named for some families,
-- with a space between; none are all. Refresh tokens and tokens of machines are kept as digests alone, and are no events.
ALTER TABLE events DROP CONSTRAINT events_role_check;
ALTER TABLE events ADD CONSTRAINT events_role_check CHECK (role IN ('member', 'keeper', 'reviewer', 'curator', 'machine')) NOT VALID;
ALTER TABLE people DROP CONSTRAINT people_role_check;
ALTER TABLE people ADD CONSTRAINT people_role_check CHECK (role IN ('', 'member', 'keeper', 'reviewer', 'curator', 'machine'));
ALTER TABLE people ADD COLUMN families text NOT NULL DEFAULT '';

CREATE TABLE refresh_tokens (
    digest     text COLLATE "C" NOT NULL PRIMARY KEY,
    session    text COLLATE "C" NOT NULL REFERENCES sessions (id) ON DELETE CASCADE,
    created_at timestamptz      NOT NULL,
    used_at    timestamptz      -- NULL: it can be used once
);
CREATE INDEX refresh_tokens_session ON refresh_tokens (session);

CREATE TABLE machine_tokens (
    id         text COLLATE "C" NOT NULL PRIMARY KEY,
    person     text COLLATE "C" NOT NULL REFERENCES accounts (person),
    digest     text COLLATE "C" NOT NULL,
    purpose    text             NOT NULL,
    scopes     text COLLATE "C" NOT NULL,
    created_by text COLLATE "C" NOT NULL, -- empty: from the command line
    created_at timestamptz      NOT NULL,
    expires_at timestamptz      NOT NULL,
    used_at    timestamptz,
    revoked_at timestamptz
);
CREATE INDEX machine_tokens_person ON machine_tokens (person);
