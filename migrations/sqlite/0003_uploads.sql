-- +goose Up
-- A photo is uploaded before any specimen names it, and it must be known whose it is and whether it has been taken.
-- The bytes are files named by their SHA-256; a row here is what keeps them from being swept.
CREATE TABLE uploads (
    id          TEXT    NOT NULL PRIMARY KEY,
    sha256      TEXT    NOT NULL CHECK (length(sha256) = 64),
    type        TEXT    NOT NULL,
    width       INTEGER NOT NULL CHECK (width >= 1),
    height      INTEGER NOT NULL CHECK (height >= 1),
    uploader    TEXT    NOT NULL,
    at          TEXT    NOT NULL,
    specimen_id TEXT REFERENCES specimens (id)
) STRICT;
CREATE INDEX uploads_sha256 ON uploads (sha256);
CREATE INDEX uploads_specimen ON uploads (specimen_id) WHERE specimen_id IS NOT NULL;
