-- +goose Up
-- Whoever writes a draft saves it again and again, and none of that is history: a draft is one row of its owner, overwritten,
-- and events begin at submitting. Then the row goes, and its id is that of the submission. Drafts of a time before stay the
-- events that they are.
CREATE TABLE drafts (
    id               text COLLATE "C" NOT NULL PRIMARY KEY,
    owner            text COLLATE "C" NOT NULL,
    version          bigint           NOT NULL CHECK (version >= 1), -- how often it was saved
    specimen_id      text COLLATE "C" NOT NULL, -- registered already, or the id that it will have
    status           text             NOT NULL CHECK (status IN ('draft', 'withdrawn')),
    group_id         text COLLATE "C" NOT NULL,
    family           text             NOT NULL,
    scientific_name  text             NOT NULL,
    qualifier        text             NOT NULL,
    doubted          text             NOT NULL CHECK (doubted IN ('', 'genus', 'species')),
    catalogue_number text             NOT NULL, -- as the next two, of a specimen that is not registered yet
    trip             text             NOT NULL,
    storage_place    text             NOT NULL,
    photo            text             NOT NULL,
    search           text             NOT NULL,
    changed_at       timestamptz      NOT NULL,
    body             text             NOT NULL CHECK (body::json IS NOT NULL)
);
CREATE INDEX drafts_owner ON drafts (owner, changed_at, id);
CREATE INDEX drafts_owner_status ON drafts (owner, status, changed_at, id);
CREATE INDEX drafts_specimen ON drafts (specimen_id, owner);

-- A photo that a draft has waits for nothing, however long the draft takes; it is let go with the draft.
ALTER TABLE uploads ADD COLUMN draft_id text COLLATE "C" REFERENCES drafts (id) ON DELETE SET NULL;
CREATE INDEX uploads_draft ON uploads (draft_id) WHERE draft_id IS NOT NULL;
DROP INDEX uploads_waiting;
CREATE INDEX uploads_waiting ON uploads (at) WHERE specimen_id IS NULL AND draft_id IS NULL;
