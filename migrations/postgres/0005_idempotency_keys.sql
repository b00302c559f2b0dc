-- +goose Up
-- A client that lost the answer to a request sends it again. The key that it gives makes the second one return what the
-- first has made, in place of a second specimen.
CREATE TABLE idempotency_keys (
    person        text COLLATE "C" NOT NULL,
    key           text COLLATE "C" NOT NULL CHECK (key <> ''),
    digest        text             NOT NULL,
    submission_id text COLLATE "C" NOT NULL REFERENCES submissions (id),
    at            timestamptz      NOT NULL,
    PRIMARY KEY (person, key)
);
CREATE INDEX idempotency_keys_submission ON idempotency_keys (submission_id);
