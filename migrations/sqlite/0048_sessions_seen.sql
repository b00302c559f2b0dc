-- +goose Up
-- A login ends when nobody uses it for a while, and its person sees where it was begun. Last use is noted once in some minutes. Logins
-- that are under way count as used when they began.
ALTER TABLE sessions ADD COLUMN seen_at TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN browser TEXT NOT NULL DEFAULT ''; -- a browser and a system, as far as it was told; empty: a program
UPDATE sessions SET seen_at = created_at;
ALTER TABLE accounts ADD COLUMN seen_at TEXT; -- null: not known
