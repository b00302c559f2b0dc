-- +goose Up
-- How long texts are compressed is PostgreSQL's alone: nothing to do here.
SELECT 1;
