-- +goose Up
-- Who is invited makes the account and chooses the password; who has forgotten it gets a link. Of the token of a link its digest alone is
-- stored, and a letter is given a new one each time it is written. Whom an account is for is personal data and stands in no event.
CREATE TABLE account_links (
    id         text COLLATE "C" NOT NULL PRIMARY KEY,
    purpose    text             NOT NULL CHECK (purpose IN ('invitation', 'reset')),
    person     text COLLATE "C" NOT NULL, -- whose account it makes or changes
    name       text             NOT NULL,
    role       text             NOT NULL,
    address    text             NOT NULL,
    digest     text COLLATE "C",          -- SHA-256 of the token; null: none is out
    mailed     boolean          NOT NULL,
    made_by    text COLLATE "C" NOT NULL, -- a person, or the program
    made_at    timestamptz      NOT NULL,
    expires_at timestamptz      NOT NULL
);
CREATE UNIQUE INDEX account_links_digest ON account_links (digest);
CREATE INDEX account_links_person ON account_links (person);
CREATE INDEX account_links_expire ON account_links (expires_at);

-- What somebody has typed who asks for another password: looked up when the letter is written, so that asking takes the same time
-- whether there is such an account or not. The id is that of the letter.
CREATE TABLE reset_requests (
    id      text COLLATE "C" NOT NULL PRIMARY KEY,
    typed   text             NOT NULL,
    made_at timestamptz      NOT NULL
);
CREATE INDEX reset_requests_made ON reset_requests (made_at);

-- Letters of accounts beside those of news.
ALTER TABLE letters DROP CONSTRAINT letters_kind_check;
ALTER TABLE letters ADD CONSTRAINT letters_kind_check CHECK (kind IN ('digest', 'confirm', 'invitation', 'reset', 'password-set'));

-- An address that somebody types is looked for among those that were confirmed.
CREATE INDEX mailboxes_address ON mailboxes (lower(address)) WHERE confirmed_at IS NOT NULL;
