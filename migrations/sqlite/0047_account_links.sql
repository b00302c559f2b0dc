-- +goose Up
-- Who is invited makes the account and chooses the password; who has forgotten it gets a link. Of the token of a link its digest alone is
-- stored, and a letter is given a new one each time it is written. Whom an account is for is personal data and stands in no event.
CREATE TABLE account_links (
    id         TEXT NOT NULL PRIMARY KEY,
    purpose    TEXT NOT NULL CHECK (purpose IN ('invitation', 'reset')),
    person     TEXT NOT NULL, -- whose account it makes or changes
    name       TEXT NOT NULL,
    role       TEXT NOT NULL,
    address    TEXT NOT NULL,
    digest     TEXT,          -- SHA-256 of the token; null: none is out
    mailed     INTEGER NOT NULL CHECK (mailed IN (0, 1)),
    made_by    TEXT NOT NULL, -- a person, or the program
    made_at    TEXT NOT NULL,
    expires_at TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX account_links_digest ON account_links (digest);
CREATE INDEX account_links_person ON account_links (person);
CREATE INDEX account_links_expire ON account_links (expires_at);

-- What somebody has typed who asks for another password: looked up when the letter is written, so that asking takes the same time
-- whether there is such an account or not. The id is that of the letter.
CREATE TABLE reset_requests (
    id      TEXT NOT NULL PRIMARY KEY,
    typed   TEXT NOT NULL,
    made_at TEXT NOT NULL
) STRICT;
CREATE INDEX reset_requests_made ON reset_requests (made_at);

-- Letters of accounts beside those of news.
CREATE TABLE letters_new (
    id      TEXT    NOT NULL PRIMARY KEY,
    person  TEXT    NOT NULL,
    kind    TEXT    NOT NULL CHECK (kind IN ('digest', 'confirm', 'invitation', 'reset', 'password-set')),
    news    TEXT    NOT NULL CHECK (json_valid(news)), -- ids
    made_at TEXT    NOT NULL,
    tries   INTEGER NOT NULL,
    next_at TEXT, -- when it is tried next; null: sent, dropped or given up
    sent_at TEXT,
    fault   TEXT    NOT NULL CHECK (fault IN ('', 'delayed', 'refused'))
) STRICT;
INSERT INTO letters_new SELECT id, person, kind, news, made_at, tries, next_at, sent_at, fault FROM letters;
DROP TABLE letters;
ALTER TABLE letters_new RENAME TO letters;
CREATE INDEX letters_waiting ON letters (next_at, id) WHERE next_at IS NOT NULL;
CREATE INDEX letters_person ON letters (person, made_at, id);
CREATE INDEX letters_made ON letters (made_at);

-- An address that somebody types is looked for among those that were confirmed.
CREATE INDEX mailboxes_address ON mailboxes (lower(address)) WHERE confirmed_at IS NOT NULL;
