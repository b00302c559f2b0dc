-- +goose Up
-- What waits is judged by new tables first: a twentieth of a large collection, and the youngest of it.
CREATE INDEX submissions_waiting ON submissions (group_id, id) WHERE status IN ('open', 'returned');
