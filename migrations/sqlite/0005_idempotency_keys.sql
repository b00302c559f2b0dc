-- +goose Up
-- A client that lost the answer to a request sends it again. The key that it gives makes the second one return what the
-- first has made, in place of a second specimen.
CREATE TABLE idempotency_keys (
    person        TEXT NOT NULL,
    key           TEXT NOT NULL CHECK (key <> ''),
    digest        TEXT NOT NULL,
    submission_id TEXT NOT NULL REFERENCES submissions (id),
    at            TEXT NOT NULL,
    PRIMARY KEY (person, key)
) STRICT;
CREATE INDEX idempotency_keys_submission ON idempotency_keys (submission_id);
