-- +goose Up
-- Letters tell a person what has become of the second factors of a login.
CREATE TABLE letters_new (
    id      TEXT    NOT NULL PRIMARY KEY,
    person  TEXT    NOT NULL,
    kind    TEXT    NOT NULL CHECK (kind IN ('digest', 'confirm', 'invitation', 'reset', 'password-set',
        'museum-login-linked', 'museum-login-unlinked', 'museum-login-taken-off',
        'second-factor-added', 'second-factor-removed', 'second-factors-taken-off', 'recovery-codes-renewed')),
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
