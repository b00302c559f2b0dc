-- +goose Up
-- Who has given a machine a token stands behind what it submits, and judges nothing of it: asked at every login and request.
CREATE INDEX machine_tokens_giver ON machine_tokens (created_by, person);
