-- +goose Up
-- Every change can be asked for under an idempotency key, not a submission alone, so that what a key has made is told by its
-- id alone, whatever it is of.
CREATE TABLE served (
    person TEXT NOT NULL,
    key    TEXT NOT NULL CHECK (key <> ''),
    digest TEXT NOT NULL,
    made   TEXT NOT NULL CHECK (made <> ''),
    at     TEXT NOT NULL,
    PRIMARY KEY (person, key)
) STRICT;
INSERT INTO served (person, key, digest, made, at) SELECT person, key, digest, submission_id, at FROM idempotency_keys;
DROP TABLE idempotency_keys;
ALTER TABLE served RENAME TO idempotency_keys;
CREATE INDEX idempotency_keys_at ON idempotency_keys (at);

-- Photos of the labels on the pin show what is withheld of the label, and lists must know of them without reading the whole
-- specimen. Ids, each between two spaces; a copy of what the events make, as in 0002.
ALTER TABLE specimens ADD COLUMN label_photos TEXT NOT NULL DEFAULT '';
UPDATE specimens SET label_photos = COALESCE((SELECT ' ' || group_concat(json_extract(p.value, '$.id'), ' ') || ' '
    FROM json_each(specimens.body, '$.photos') AS p WHERE json_extract(p.value, '$.view') = 'label'), '')
    WHERE instr(body, '"view":"label"') > 0;

-- Who reviews and has been shown a specimen with its names looks blind at it no more, and who has been shown what others said
-- of it says no more what only they themselves see. seq counts the events of opening; a copy of what these make.
CREATE TABLE openings (
    specimen_id TEXT    NOT NULL REFERENCES specimens (id) ON DELETE CASCADE,
    person      TEXT    NOT NULL,
    seq         INTEGER NOT NULL CHECK (seq >= 1),
    verdicts    INTEGER NOT NULL CHECK (verdicts IN (0, 1)),
    PRIMARY KEY (specimen_id, person)
) STRICT;
