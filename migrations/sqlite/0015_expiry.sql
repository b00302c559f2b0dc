-- +goose Up
-- What only somebody once waited for goes after a while: uploads that no specimen took, idempotency keys, and how far jobs
-- have come that have ended. Each is found by its time, a few at once, without a look at what stays.
CREATE INDEX uploads_waiting ON uploads (at) WHERE specimen_id IS NULL;
CREATE INDEX idempotency_keys_at ON idempotency_keys (at);
CREATE INDEX jobs_finished ON jobs (finished_at) WHERE finished_at IS NOT NULL;
