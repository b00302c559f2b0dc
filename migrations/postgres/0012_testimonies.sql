-- +goose Up
-- Figures and learning look at what was said of closed specimens, and used to decode whole submissions for it. A row holds
-- just that, for each group of tables of which a submission came before reviewers: made in the commit that closes the last
-- submission, in order of closing. An empty body is filled in by the program: closed before there were such rows.
CREATE TABLE testimonies (
    specimen_id text COLLATE "C" NOT NULL REFERENCES specimens (id) ON DELETE CASCADE,
    group_id    text COLLATE "C" NOT NULL,
    closed_at   timestamptz, -- null: a submission is before reviewers again
    learnt      bigint           NOT NULL DEFAULT 0 CHECK (learnt >= 0), -- version of the reliability that took it in; 0: it waits for that
    body        text             NOT NULL CHECK (body = '' OR body::json IS NOT NULL),
    PRIMARY KEY (specimen_id, group_id)
);
CREATE INDEX testimonies_closed ON testimonies (group_id, closed_at, specimen_id) WHERE closed_at IS NOT NULL;
CREATE INDEX testimonies_waiting ON testimonies (group_id, closed_at, specimen_id) WHERE closed_at IS NOT NULL AND learnt = 0;
CREATE INDEX testimonies_unmade ON testimonies (specimen_id) WHERE body = '';

-- What was closed before waits for the next refit, as it did, where anything has been learnt at all.
INSERT INTO testimonies (specimen_id, group_id, closed_at, learnt, body)
SELECT s.specimen_id, s.group_id, MAX(COALESCE((s.body::json ->> 'closed_at')::timestamptz, s.changed_at)),
    COALESCE((SELECT version FROM reliabilities AS r WHERE r.group_id = s.group_id), 0), ''
FROM submissions AS s
WHERE s.opened_at IS NOT NULL AND NOT EXISTS (SELECT 1 FROM submissions AS o
    WHERE o.specimen_id = s.specimen_id AND o.opened_at IS NOT NULL AND o.status IN ('open', 'returned'))
GROUP BY s.specimen_id, s.group_id;

-- Calibration looks at the rechecks alone. Their text may be too long for an index, so that the index holds the rest.
ALTER TABLE submissions ADD COLUMN recheck text CHECK (recheck IS NULL OR recheck::json IS NOT NULL);
UPDATE submissions SET recheck = body::json ->> 'recheck' WHERE body::json ->> 'recheck' IS NOT NULL;
CREATE INDEX submissions_rechecks ON submissions (group_id, id, status) WHERE recheck IS NOT NULL;
