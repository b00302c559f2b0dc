-- +goose Up
-- A login ends when nobody uses it for a while, and its person sees where it was begun. Last use is noted once in some minutes. Logins
-- that are under way count as used when they began.
ALTER TABLE sessions ADD COLUMN seen_at timestamptz;
ALTER TABLE sessions ADD COLUMN browser text NOT NULL DEFAULT ''; -- a browser and a system, as far as it was told; empty: a program
UPDATE sessions SET seen_at = created_at;
ALTER TABLE sessions ALTER COLUMN seen_at SET NOT NULL;
ALTER TABLE accounts ADD COLUMN seen_at timestamptz; -- null: not known
