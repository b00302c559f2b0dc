-- +goose Up
-- Cf. and aff. stand before the word of a name that is doubted, which is asked for now and shown in lists; of what was stored
-- before it is not known, and they stand before the whole name. Why something cannot be determined stands with it wherever it
-- is shown, so that the values of that status take it from their last event of the kind.
ALTER TABLE submissions ADD COLUMN doubted TEXT NOT NULL DEFAULT '' CHECK (doubted IN ('', 'genus', 'species'));
UPDATE submissions SET body = json_set(body, '$.undeterminable', (SELECT json_extract(e.data, '$.reason') FROM events AS e
    WHERE e.stream = 'submission/' || submissions.id AND e.kind = 'undetermined' ORDER BY e.seq DESC LIMIT 1))
WHERE status = 'undetermined' AND EXISTS (SELECT 1 FROM events AS e WHERE e.stream = 'submission/' || submissions.id
    AND e.kind = 'undetermined' AND COALESCE(json_extract(e.data, '$.reason'), '') <> '');
