-- +goose Up
-- What follows from an act, or is too long for one, is done behind it in slices. The queue of slices belongs to the job
-- library, which keeps only what is to be done next; how far a job has come, and what went wrong, is for pages and must
-- stay when the queue is cleaned, so it stands here. There is one row for each kind and key.
CREATE TABLE jobs (
    kind        TEXT    NOT NULL CHECK (kind <> ''),
    key         TEXT    NOT NULL,
    args        TEXT    NOT NULL, -- JSON, or empty; as it was asked for last
    wanted      TEXT    NOT NULL, -- version; as it was asked for last
    asked       bigint  NOT NULL CHECK (asked >= 1), -- how often it was asked for when that changed something
    run_args    TEXT    NOT NULL, -- as they were when the last run began
    run_wanted  TEXT    NOT NULL,
    taken       bigint  NOT NULL CHECK (taken BETWEEN 0 AND asked), -- "asked" when the last run began: where it is less, another run is needed
    status      TEXT    NOT NULL CHECK (status IN ('waiting', 'running', 'done', 'failed')),
    slice       bigint  NOT NULL, -- grows when a slice begins and when it is stored, so that one that was given up stores nothing
    cursor      TEXT    NOT NULL CHECK (cursor = '' OR status = 'running'), -- JSON, or empty
    done        bigint  NOT NULL CHECK (done >= 0),
    total       bigint  NOT NULL CHECK (total >= 0),
    tries       bigint  NOT NULL CHECK (tries >= 0),
    error       TEXT    NOT NULL,
    asked_at    timestamptz NOT NULL,
    started_at  timestamptz,
    updated_at  timestamptz NOT NULL,
    finished_at timestamptz CHECK ((finished_at IS NULL) = (status IN ('waiting', 'running'))),
    PRIMARY KEY (kind, key)
);
CREATE INDEX jobs_unfinished ON jobs (kind, key) WHERE finished_at IS NULL;
CREATE INDEX jobs_updated ON jobs (updated_at);
