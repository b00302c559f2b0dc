-- +goose Up
-- What waits for a curator stands on the first page of a curator, which must not take longer the more is kept: each of its lists
-- is read by an index that holds nothing else. The new columns are copies of what stands in the bodies, as in 0002.
-- Closed determinations that a complete panel does not bear out:
ALTER TABLE submissions ADD COLUMN parted INTEGER NOT NULL DEFAULT 0 CHECK (parted IN (0, 1));
UPDATE submissions SET parted = 1
WHERE recheck IS NOT NULL AND status IN ('confirmed', 'undetermined')
    AND json_array_length(recheck, '$.opinions') >= json_extract(recheck, '$.panel')
    AND (status = 'confirmed') <> EXISTS (SELECT 1 FROM json_each(submissions.recheck, '$.opinions') AS o
        WHERE json_extract(o.value, '$.family') <> ''
            AND (submissions.status = 'undetermined' OR json_extract(o.value, '$.family') = submissions.family)
        GROUP BY json_extract(o.value, '$.family') HAVING 2 * count(*) > json_array_length(submissions.recheck, '$.opinions'));
CREATE INDEX submissions_parted ON submissions (changed_at, id) WHERE parted AND opened_at IS NOT NULL;

-- Proposed changes that wait for a decision, of whatever group:
CREATE INDEX cell_proposals_waiting ON cell_proposals (at, id) WHERE status = 'open';

-- Holds that ran out while the submission stayed open:
CREATE INDEX submissions_left_held ON submissions (hold_until, id) WHERE hold_by <> '' AND status = 'open';

-- Drafts of names that stand on old slips: worded there, or given by somebody else:
ALTER TABLE drafts ADD COLUMN slip INTEGER NOT NULL DEFAULT 0 CHECK (slip IN (0, 1));
UPDATE drafts SET slip = 1 WHERE COALESCE(json_extract(body, '$.proposal.determination.wording'), '') <> ''
    OR COALESCE(json_extract(body, '$.proposal.determination.determiner'), owner) <> owner;
CREATE INDEX drafts_slips ON drafts (owner, status, changed_at, id) WHERE slip;

-- Members of whom fifty reports were weighed and who read some region of the body below what members begin with: θ is
-- right / (right + wrong), its standard error the root of right·wrong / (right + wrong)³, and 2.58 of these lie between.
ALTER TABLE reliability_people ADD COLUMN reads_below INTEGER NOT NULL DEFAULT 0 CHECK (reads_below IN (0, 1));
UPDATE reliability_people SET reads_below = 1
WHERE json_extract(body, '$.role') = 'member'
    AND (SELECT sum(json_extract(r.value, '$.Verdicts')) FROM json_each(reliability_people.body, '$.regions') AS r) >= 50
    AND EXISTS (SELECT 1 FROM (SELECT json_extract(r.value, '$.Right') AS a, json_extract(r.value, '$.Wrong') AS b
            FROM json_each(reliability_people.body, '$.regions') AS r) AS known
        WHERE 0.85 > a / (a + b) AND (0.85 - a / (a + b)) * (0.85 - a / (a + b)) > 2.58 * 2.58 * a * b / ((a + b) * (a + b) * (a + b)));
CREATE INDEX reliability_people_below ON reliability_people (group_id, person) WHERE reads_below;

-- Accounts that are disabled are few.
CREATE INDEX accounts_disabled ON accounts (person) WHERE disabled;
