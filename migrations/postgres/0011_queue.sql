-- +goose Up
-- Of five places of the queue four go by what a look tells and one to the longest waiting. So the queue is made of several
-- lists, each in an order that is the same for everybody, which are merged for the one who asks; every submission that
-- waits has an entry in each list that it stands in. Copies of what the events make, as in 0002.
CREATE TABLE queue_entries (
    submission_id text COLLATE "C" NOT NULL REFERENCES submissions (id) ON DELETE CASCADE,
    place         bigint           NOT NULL CHECK (place >= 0), -- 0: by how long it waits; from 1: the most telling region first
    list          text COLLATE "C" NOT NULL, -- open/GROUP, recheck/GROUP or gain/GROUP/REGION
    -- Larger comes first: bits by a reviewer of whom nothing else is known, rounded to a millionth; or minus the seconds
    -- since 1970 at which it began to wait.
    urgency       double precision NOT NULL,
    family        text COLLATE "C" NOT NULL,
    trip          text COLLATE "C" NOT NULL,
    storage_place text COLLATE "C" NOT NULL,
    PRIMARY KEY (submission_id, place)
);

INSERT INTO queue_entries
    SELECT s.id, 0, CASE WHEN s.recheck_open THEN 'recheck/' ELSE 'open/' END || s.group_id, -s.queued_unix, s.family, sp.trip, sp.storage_place
    FROM submissions AS s JOIN specimens AS sp ON sp.id = s.specimen_id WHERE s.queued_unix IS NOT NULL;
INSERT INTO queue_entries
    SELECT s.id, g.place, 'gain/' || s.group_id || '/' || g.region, round(g.gain::numeric, 6), s.family, sp.trip, sp.storage_place
    FROM submission_gains AS g JOIN submissions AS s ON s.id = g.submission_id JOIN specimens AS sp ON sp.id = s.specimen_id
    WHERE s.status = 'open' AND round(g.gain::numeric, 6) > 0;
-- What was stored before there were gains by region has one for the whole specimen.
INSERT INTO queue_entries
    SELECT s.id, 1, 'gain/' || s.group_id || '/', round(s.gain::numeric, 6), s.family, sp.trip, sp.storage_place
    FROM submissions AS s JOIN specimens AS sp ON sp.id = s.specimen_id
    WHERE s.status = 'open' AND round(s.gain::numeric, 6) > 0 AND NOT EXISTS (SELECT 1 FROM submission_gains AS g WHERE g.submission_id = s.id);
CREATE INDEX queue_entries_list ON queue_entries (list, urgency DESC, submission_id);
CREATE INDEX queue_entries_family ON queue_entries (family, list, urgency DESC, submission_id);
CREATE INDEX queue_entries_trip ON queue_entries (trip, list, urgency DESC, submission_id) WHERE trip <> '';
CREATE INDEX queue_entries_storage_place ON queue_entries (storage_place, list, urgency DESC, submission_id) WHERE storage_place <> '';
DROP TABLE submission_gains;
DROP INDEX submissions_queue;
DROP INDEX submissions_queue_group;
ALTER TABLE submissions DROP COLUMN queued_unix;

-- Nobody is sent again to what they have judged until there is something new to see: evidence counts how often the
-- submission came before reviewers or was answered, and judged holds at which count somebody last gave a verdict or an opinion.
ALTER TABLE submissions ADD COLUMN evidence bigint NOT NULL DEFAULT 0 CHECK (evidence >= 0);
CREATE TABLE judged (
    person        text COLLATE "C" NOT NULL,
    submission_id text COLLATE "C" NOT NULL REFERENCES submissions (id) ON DELETE CASCADE,
    evidence      bigint           NOT NULL CHECK (evidence >= 0),
    PRIMARY KEY (person, submission_id)
);
UPDATE submissions SET evidence = (SELECT count(*) FROM events AS e
    WHERE e.stream = 'submission/' || submissions.id AND e.kind IN ('submitted', 'answered', 'reopened'));
INSERT INTO judged
    SELECT e.actor, s.id, max((SELECT count(*) FROM events AS n
        WHERE n.stream = e.stream AND n.seq < e.seq AND n.kind IN ('submitted', 'answered', 'reopened')))
    FROM submissions AS s JOIN events AS e ON e.stream = 'submission/' || s.id
    WHERE e.kind IN ('verdicts-given', 'opinion-given') GROUP BY e.actor, s.id;
