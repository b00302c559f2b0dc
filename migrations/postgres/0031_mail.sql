-- +goose Up
-- Whoever does not look in every day is sent what they are told, as often as they choose and where they choose: the address is
-- theirs, stands here alone, and goes with them. A letter is made once for its news, in the transaction that notes so, and is put
-- into words when it is sent.
CREATE TABLE mailboxes (
    person       text COLLATE "C" NOT NULL PRIMARY KEY,
    version      integer          NOT NULL CHECK (version >= 1),
    address      text COLLATE "C" NOT NULL, -- empty: none
    confirmed_at timestamptz,               -- when its reader has said that it is theirs
    rhythm       text COLLATE "C" NOT NULL CHECK (rhythm IN ('never', 'at-once', 'daily', 'weekly')),
    codes        text COLLATE "C" NOT NULL CHECK (codes::json IS NOT NULL), -- of news that are sent
    upto         timestamptz      NOT NULL, -- time of the latest news that was looked at for a letter
    looked_at    timestamptz      NOT NULL  -- when that was
);
CREATE INDEX mailboxes_sent ON mailboxes (looked_at) WHERE rhythm <> 'never' AND confirmed_at IS NOT NULL;

CREATE TABLE letters (
    id      text COLLATE "C" NOT NULL PRIMARY KEY,
    person  text COLLATE "C" NOT NULL,
    kind    text COLLATE "C" NOT NULL CHECK (kind IN ('digest', 'confirm')),
    news    text COLLATE "C" NOT NULL CHECK (news::json IS NOT NULL), -- ids
    made_at timestamptz      NOT NULL,
    tries   integer          NOT NULL,
    next_at timestamptz, -- when it is tried next; null: sent, dropped or given up
    sent_at timestamptz,
    fault   text COLLATE "C" NOT NULL CHECK (fault IN ('', 'delayed', 'refused'))
);
CREATE INDEX letters_waiting ON letters (next_at, id) WHERE next_at IS NOT NULL;
CREATE INDEX letters_person ON letters (person, made_at, id);
CREATE INDEX letters_made ON letters (made_at);
