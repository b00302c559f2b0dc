-- +goose Up
-- Every change can be asked for under an idempotency key, not a submission alone, so that what a key has made is told by its
-- id alone, whatever it is of.
DROP INDEX idempotency_keys_submission;
ALTER TABLE idempotency_keys DROP CONSTRAINT idempotency_keys_submission_id_fkey;
ALTER TABLE idempotency_keys RENAME COLUMN submission_id TO made;
ALTER TABLE idempotency_keys ADD CHECK (made <> '');

-- Photos of the labels on the pin show what is withheld of the label, and lists must know of them without reading the whole
-- specimen. Ids, each between two spaces; a copy of what the events make, as in 0002.
ALTER TABLE specimens ADD COLUMN label_photos text NOT NULL DEFAULT '';
UPDATE specimens SET label_photos = COALESCE((SELECT ' ' || string_agg(p.photo ->> 'id', ' ' ORDER BY p.place) || ' '
    FROM json_array_elements(body::json -> 'photos') WITH ORDINALITY AS p (photo, place) WHERE p.photo ->> 'view' = 'label'), '')
    WHERE strpos(body, '"view":"label"') > 0;

-- Who reviews and has been shown a specimen with its names looks blind at it no more, and who has been shown what others said
-- of it says no more what only they themselves see. seq counts the events of opening; a copy of what these make.
CREATE TABLE openings (
    specimen_id text COLLATE "C" NOT NULL REFERENCES specimens (id) ON DELETE CASCADE,
    person      text COLLATE "C" NOT NULL,
    seq         bigint           NOT NULL CHECK (seq >= 1),
    verdicts    boolean          NOT NULL,
    PRIMARY KEY (specimen_id, person)
);
