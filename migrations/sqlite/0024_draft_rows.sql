-- +goose Up
-- Whoever writes a draft saves it again and again, and none of that is history: a draft is one row of its owner, overwritten,
-- and events begin at submitting. Then the row goes, and its id is that of the submission. Drafts of a time before stay the
-- events that they are.
CREATE TABLE drafts (
    id               TEXT    NOT NULL PRIMARY KEY,
    owner            TEXT    NOT NULL,
    version          INTEGER NOT NULL CHECK (version >= 1), -- how often it was saved
    specimen_id      TEXT    NOT NULL, -- registered already, or the id that it will have
    status           TEXT    NOT NULL CHECK (status IN ('draft', 'withdrawn')),
    group_id         TEXT    NOT NULL,
    family           TEXT    NOT NULL,
    scientific_name  TEXT    NOT NULL,
    qualifier        TEXT    NOT NULL,
    doubted          TEXT    NOT NULL CHECK (doubted IN ('', 'genus', 'species')),
    catalogue_number TEXT    NOT NULL, -- as the next two, of a specimen that is not registered yet
    trip             TEXT    NOT NULL,
    storage_place    TEXT    NOT NULL,
    photo            TEXT    NOT NULL,
    search           TEXT    NOT NULL,
    changed_at       TEXT    NOT NULL,
    body             TEXT    NOT NULL CHECK (json_valid(body))
) STRICT;
CREATE INDEX drafts_owner ON drafts (owner, changed_at, id);
CREATE INDEX drafts_owner_status ON drafts (owner, status, changed_at, id);
CREATE INDEX drafts_specimen ON drafts (specimen_id, owner);

-- A photo that a draft has waits for nothing, however long the draft takes; it is let go with the draft.
ALTER TABLE uploads ADD COLUMN draft_id TEXT REFERENCES drafts (id) ON DELETE SET NULL;
CREATE INDEX uploads_draft ON uploads (draft_id) WHERE draft_id IS NOT NULL;
DROP INDEX uploads_waiting;
CREATE INDEX uploads_waiting ON uploads (at) WHERE specimen_id IS NULL AND draft_id IS NULL;
