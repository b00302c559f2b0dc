-- +goose Up
-- Figures and learning look at what was said of closed specimens, and used to decode whole submissions for it. A row holds
-- just that, for each group of tables of which a submission came before reviewers: made in the commit that closes the last
-- submission, in order of closing. An empty body is filled in by the program: closed before there were such rows.
CREATE TABLE testimonies (
    specimen_id TEXT    NOT NULL REFERENCES specimens (id) ON DELETE CASCADE,
    group_id    TEXT    NOT NULL,
    closed_at   TEXT, -- null: a submission is before reviewers again
    learnt      INTEGER NOT NULL DEFAULT 0 CHECK (learnt >= 0), -- version of the reliability that took it in; 0: it waits for that
    body        TEXT    NOT NULL CHECK (body = '' OR json_valid(body)),
    PRIMARY KEY (specimen_id, group_id)
) STRICT;
CREATE INDEX testimonies_closed ON testimonies (group_id, closed_at, specimen_id) WHERE closed_at IS NOT NULL;
CREATE INDEX testimonies_waiting ON testimonies (group_id, closed_at, specimen_id) WHERE closed_at IS NOT NULL AND learnt = 0;
CREATE INDEX testimonies_unmade ON testimonies (specimen_id) WHERE body = '';

-- What was closed before waits for the next refit, as it did, where anything has been learnt at all.
INSERT INTO testimonies (specimen_id, group_id, closed_at, learnt, body)
SELECT s.specimen_id, s.group_id, MAX(COALESCE(json_extract(s.body, '$.closed_at'), s.changed_at)),
    COALESCE((SELECT version FROM reliabilities AS r WHERE r.group_id = s.group_id), 0), ''
FROM submissions AS s
WHERE s.opened_at IS NOT NULL AND NOT EXISTS (SELECT 1 FROM submissions AS o
    WHERE o.specimen_id = s.specimen_id AND o.opened_at IS NOT NULL AND o.status IN ('open', 'returned'))
GROUP BY s.specimen_id, s.group_id;
-- As all times here: in microseconds, whatever the body had.
UPDATE testimonies SET closed_at = substr(replace(closed_at, 'Z', ''), 1, 19) || substr(
    CASE instr(closed_at, '.') WHEN 0 THEN '.' ELSE substr(replace(closed_at, 'Z', ''), 20) END || '000000', 1, 7) || 'Z';

-- Calibration looks at the rechecks alone; the index holds all that it reads.
ALTER TABLE submissions ADD COLUMN recheck TEXT CHECK (recheck IS NULL OR json_valid(recheck));
UPDATE submissions SET recheck = json_extract(body, '$.recheck') WHERE json_extract(body, '$.recheck') IS NOT NULL;
CREATE INDEX submissions_rechecks ON submissions (group_id, id, status, recheck) WHERE recheck IS NOT NULL;
