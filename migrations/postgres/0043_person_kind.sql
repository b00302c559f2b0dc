-- +goose Up
-- What somebody determined, or said something of, and what does not fit in a certain way: looked for together along one index. against is
-- that of the submission.
ALTER TABLE said ADD COLUMN against bigint NOT NULL DEFAULT 0 CHECK (against BETWEEN 0 AND 63);
UPDATE said SET against = s.against FROM submissions AS s WHERE s.id = said.submission_id AND s.against <> 0;
CREATE INDEX said_excluded ON said (person, changed_at, submission_id) WHERE (against & 1) <> 0;
CREATE INDEX said_incompatible ON said (person, changed_at, submission_id) WHERE (against & 2) <> 0;
CREATE INDEX said_combination ON said (person, changed_at, submission_id) WHERE (against & 4) <> 0;
CREATE INDEX said_better_fit ON said (person, changed_at, submission_id) WHERE (against & 8) <> 0;
CREATE INDEX said_unusual ON said (person, changed_at, submission_id) WHERE (against & 16) <> 0;
CREATE INDEX said_unseen ON said (person, changed_at, submission_id) WHERE (against & 32) <> 0;
CREATE INDEX submissions_excluded_determiner ON submissions (determiner, changed_at, id) WHERE (against & 1) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_incompatible_determiner ON submissions (determiner, changed_at, id) WHERE (against & 2) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_combination_determiner ON submissions (determiner, changed_at, id) WHERE (against & 4) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_better_fit_determiner ON submissions (determiner, changed_at, id) WHERE (against & 8) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_unusual_determiner ON submissions (determiner, changed_at, id) WHERE (against & 16) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_unseen_determiner ON submissions (determiner, changed_at, id) WHERE (against & 32) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
