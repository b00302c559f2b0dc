-- +goose Up
-- What people have turned out to be like is read with every page and every act, so it stands beside its events as rows:
-- a head for each group of tables and a row for each person in it, so that learning from one specimen writes few rows.
-- Both are copies of what the events make, as in 0002.
CREATE TABLE reliabilities (
    group_id text COLLATE "C" NOT NULL PRIMARY KEY,
    version  bigint           NOT NULL CHECK (version >= 1), -- sequence of the last event
    at       timestamptz      NOT NULL,
    body     text             NOT NULL CHECK (body::json IS NOT NULL) -- without the people
);

CREATE TABLE reliability_people (
    group_id text COLLATE "C" NOT NULL REFERENCES reliabilities (group_id),
    person   text COLLATE "C" NOT NULL CHECK (person <> ''),
    body     text             NOT NULL CHECK (body::json IS NOT NULL),
    PRIMARY KEY (group_id, person)
);

-- Lists must say what somebody is to look at blind, which hangs on the dice, on who knows a submission already, and on
-- whether a closed one is being rechecked. The queue holds rechecks as well, so that it is no longer the open ones.
ALTER TABLE submissions
    ADD COLUMN determiner   text    NOT NULL DEFAULT '',
    ADD COLUMN known_to     text    NOT NULL DEFAULT ' ', -- persons, each between two spaces
    ADD COLUMN draw_rate    double precision CHECK (draw_rate BETWEEN 0 AND 1),
    ADD COLUMN draw_seed    text CHECK ((draw_seed IS NULL) = (draw_rate IS NULL)),
    ADD COLUMN recheck_open boolean NOT NULL DEFAULT false,
    -- Since when it has waited, in seconds since 1970; null where it does not wait.
    ADD COLUMN queued_unix  double precision CHECK (queued_unix IS NULL OR status = 'open' OR recheck_open);

UPDATE submissions SET determiner = COALESCE(body::json -> 'determination' ->> 'determiner', ''),
    queued_unix = CASE WHEN status = 'open' THEN opened_unix END;
UPDATE submissions SET known_to = COALESCE((
    SELECT ' ' || string_agg(person, ' ' ORDER BY person COLLATE "C") || ' ' FROM (
        SELECT submissions.owner AS person
        UNION SELECT submissions.determiner
        UNION SELECT v ->> 'by' FROM json_array_elements(submissions.body::json -> 'verdicts') AS v
        UNION SELECT o ->> 'by' FROM json_array_elements(submissions.body::json -> 'opinions') AS o
        UNION SELECT r ->> 'by' FROM json_array_elements(submissions.body::json -> 'returns') AS r) AS known
    WHERE person <> ''), ' ');

DROP INDEX submissions_queue;
DROP INDEX submissions_queue_group;
CREATE INDEX submissions_queue ON submissions (family) WHERE queued_unix IS NOT NULL;
CREATE INDEX submissions_queue_group ON submissions (group_id) WHERE queued_unix IS NOT NULL;
CREATE INDEX submissions_specimens ON submissions (group_id, specimen_id) WHERE opened_at IS NOT NULL;

-- The queue is ordered for the person who asks, who may be a better judge of one region of the body than of another.
CREATE TABLE submission_gains (
    submission_id text COLLATE "C" NOT NULL REFERENCES submissions (id) ON DELETE CASCADE,
    place         bigint           NOT NULL CHECK (place >= 1), -- 1: the region where a look tells most
    region        text             NOT NULL CHECK (region <> ''),
    gain          double precision NOT NULL CHECK (gain BETWEEN 0 AND 1), -- bits, by a reviewer of whom nothing else is known
    PRIMARY KEY (submission_id, place)
);
