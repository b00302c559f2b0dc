-- +goose Up
-- A photo is uploaded before any specimen names it, and it must be known whose it is and whether it has been taken.
-- The bytes are files named by their SHA-256; a row here is what keeps them from being swept.
CREATE TABLE uploads (
    id          text COLLATE "C" NOT NULL PRIMARY KEY,
    sha256      text COLLATE "C" NOT NULL CHECK (length(sha256) = 64),
    type        text             NOT NULL,
    width       bigint           NOT NULL CHECK (width >= 1),
    height      bigint           NOT NULL CHECK (height >= 1),
    uploader    text             NOT NULL,
    at          timestamptz      NOT NULL,
    specimen_id text COLLATE "C" REFERENCES specimens (id)
);
CREATE INDEX uploads_sha256 ON uploads (sha256);
CREATE INDEX uploads_specimen ON uploads (specimen_id) WHERE specimen_id IS NOT NULL;
