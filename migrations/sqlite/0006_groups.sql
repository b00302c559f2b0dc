-- +goose Up
-- A submission is judged by the tables of one group, and there is more than one now. What is stored already was judged
-- by the only tables that there were, those of adult beetles. Its events name no group, which is the empty group to
-- Rebuild: so the column is set once here, and a rebuilt row of that time says '' instead.
ALTER TABLE submissions ADD COLUMN group_id TEXT NOT NULL DEFAULT 'coleoptera-adults';
CREATE INDEX submissions_group ON submissions (group_id, changed_at, id);
CREATE INDEX submissions_queue_group ON submissions (group_id) WHERE status = 'open';
CREATE INDEX submissions_determinations ON submissions (group_id, id) WHERE status IN ('open', 'returned', 'confirmed');
