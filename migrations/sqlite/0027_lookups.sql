-- +goose Up
-- Nothing changes here: SQLite has no index of hashes. PostgreSQL gets two, and both count their changes alike.
SELECT 1;
