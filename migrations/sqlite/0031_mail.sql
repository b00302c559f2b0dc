-- +goose Up
-- Whoever does not look in every day is sent what they are told, as often as they choose and where they choose: the address is
-- theirs, stands here alone, and goes with them. A letter is made once for its news, in the transaction that notes so, and is put
-- into words when it is sent.
CREATE TABLE mailboxes (
    person       TEXT    NOT NULL PRIMARY KEY,
    version      INTEGER NOT NULL CHECK (version >= 1),
    address      TEXT    NOT NULL, -- empty: none
    confirmed_at TEXT,             -- when its reader has said that it is theirs
    rhythm       TEXT    NOT NULL CHECK (rhythm IN ('never', 'at-once', 'daily', 'weekly')),
    codes        TEXT    NOT NULL CHECK (json_valid(codes)), -- of news that are sent
    upto         TEXT    NOT NULL, -- time of the latest news that was looked at for a letter
    looked_at    TEXT    NOT NULL  -- when that was
) STRICT;
CREATE INDEX mailboxes_sent ON mailboxes (looked_at) WHERE rhythm <> 'never' AND confirmed_at IS NOT NULL;

CREATE TABLE letters (
    id      TEXT    NOT NULL PRIMARY KEY,
    person  TEXT    NOT NULL,
    kind    TEXT    NOT NULL CHECK (kind IN ('digest', 'confirm')),
    news    TEXT    NOT NULL CHECK (json_valid(news)), -- ids
    made_at TEXT    NOT NULL,
    tries   INTEGER NOT NULL,
    next_at TEXT, -- when it is tried next; null: sent, dropped or given up
    sent_at TEXT,
    fault   TEXT    NOT NULL CHECK (fault IN ('', 'delayed', 'refused'))
) STRICT;
CREATE INDEX letters_waiting ON letters (next_at, id) WHERE next_at IS NOT NULL;
CREATE INDEX letters_person ON letters (person, made_at, id);
CREATE INDEX letters_made ON letters (made_at);
