-- +goose Up
-- Cf. and aff. stand before the word of a name that is doubted, which is asked for now and shown in lists; of what was stored
-- before it is not known, and they stand before the whole name. Why something cannot be determined stands with it wherever it
-- is shown, so that the values of that status take it from their last event of the kind.
ALTER TABLE submissions ADD COLUMN doubted text NOT NULL DEFAULT '' CHECK (doubted IN ('', 'genus', 'species'));
UPDATE submissions SET body = jsonb_set(body::jsonb, '{undeterminable}', to_jsonb((SELECT e.data::json ->> 'reason' FROM events AS e
    WHERE e.stream = 'submission/' || submissions.id AND e.kind = 'undetermined' ORDER BY e.seq DESC LIMIT 1)))::text
WHERE status = 'undetermined' AND EXISTS (SELECT 1 FROM events AS e WHERE e.stream = 'submission/' || submissions.id
    AND e.kind = 'undetermined' AND COALESCE(e.data::json ->> 'reason', '') <> '');
