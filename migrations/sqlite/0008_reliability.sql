-- +goose Up
-- What people have turned out to be like is read with every page and every act, so it stands beside its events as rows:
-- a head for each group of tables and a row for each person in it, so that learning from one specimen writes few rows.
-- Both are copies of what the events make, as in 0002.
CREATE TABLE reliabilities (
    group_id TEXT    NOT NULL PRIMARY KEY,
    version  INTEGER NOT NULL CHECK (version >= 1), -- sequence of the last event
    at       TEXT    NOT NULL,
    body     TEXT    NOT NULL CHECK (json_valid(body)) -- without the people
) STRICT;

CREATE TABLE reliability_people (
    group_id TEXT NOT NULL REFERENCES reliabilities (group_id),
    person   TEXT NOT NULL CHECK (person <> ''),
    body     TEXT NOT NULL CHECK (json_valid(body)),
    PRIMARY KEY (group_id, person)
) STRICT;

-- Lists must say what somebody is to look at blind, which hangs on the dice, on who knows a submission already, and on
-- whether a closed one is being rechecked. The queue holds rechecks as well, so that it is no longer the open ones.
ALTER TABLE submissions ADD COLUMN determiner TEXT NOT NULL DEFAULT '';
ALTER TABLE submissions ADD COLUMN known_to TEXT NOT NULL DEFAULT ' '; -- persons, each between two spaces
ALTER TABLE submissions ADD COLUMN draw_rate REAL CHECK (draw_rate BETWEEN 0 AND 1);
ALTER TABLE submissions ADD COLUMN draw_seed TEXT CHECK ((draw_seed IS NULL) = (draw_rate IS NULL));
ALTER TABLE submissions ADD COLUMN recheck_open INTEGER NOT NULL DEFAULT 0 CHECK (recheck_open IN (0, 1));
-- Since when it has waited, in seconds since 1970; null where it does not wait.
ALTER TABLE submissions ADD COLUMN queued_unix REAL CHECK (queued_unix IS NULL OR status = 'open' OR recheck_open = 1);

UPDATE submissions SET determiner = COALESCE(json_extract(body, '$.determination.determiner'), ''),
    queued_unix = CASE WHEN status = 'open' THEN opened_unix END;
UPDATE submissions SET known_to = COALESCE((
    SELECT ' ' || group_concat(person, ' ') || ' ' FROM (
        SELECT submissions.owner AS person
        UNION SELECT submissions.determiner
        UNION SELECT json_extract(v.value, '$.by') FROM json_each(submissions.body, '$.verdicts') AS v
        UNION SELECT json_extract(o.value, '$.by') FROM json_each(submissions.body, '$.opinions') AS o
        UNION SELECT json_extract(r.value, '$.by') FROM json_each(submissions.body, '$.returns') AS r
        ORDER BY 1) WHERE person <> ''), ' ');

DROP INDEX submissions_queue;
DROP INDEX submissions_queue_group;
CREATE INDEX submissions_queue ON submissions (family) WHERE queued_unix IS NOT NULL;
CREATE INDEX submissions_queue_group ON submissions (group_id) WHERE queued_unix IS NOT NULL;
CREATE INDEX submissions_specimens ON submissions (group_id, specimen_id) WHERE opened_at IS NOT NULL;

-- The queue is ordered for the person who asks, who may be a better judge of one region of the body than of another.
CREATE TABLE submission_gains (
    submission_id TEXT    NOT NULL REFERENCES submissions (id) ON DELETE CASCADE,
    place         INTEGER NOT NULL CHECK (place >= 1), -- 1: the region where a look tells most
    region        TEXT    NOT NULL CHECK (region <> ''),
    gain          REAL    NOT NULL CHECK (gain BETWEEN 0 AND 1), -- bits, by a reviewer of whom nothing else is known
    PRIMARY KEY (submission_id, place)
) STRICT;
