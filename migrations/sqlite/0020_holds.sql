-- +goose Up
-- One person holds a bounded number of submissions at once: they are looked up by who holds them. Most are held by nobody.
CREATE INDEX submissions_held ON submissions (hold_by, hold_until) WHERE hold_by <> '';
