-- +goose Up
-- What photos look like, by the SHA-256 of their originals, so that one that is here already, or nearly, is pointed out when it comes
-- again. The four parts are the first 64 bits of the look; two looks of which few bits differ have one of them in common. Photos of
-- before have none.
CREATE TABLE photo_looks (
    sha256 TEXT    NOT NULL PRIMARY KEY,
    look   TEXT    NOT NULL CHECK (length(look) = 32),
    part_a INTEGER NOT NULL,
    part_b INTEGER NOT NULL,
    part_c INTEGER NOT NULL,
    part_d INTEGER NOT NULL
) STRICT;
CREATE INDEX photo_looks_a ON photo_looks (part_a);
CREATE INDEX photo_looks_b ON photo_looks (part_b);
CREATE INDEX photo_looks_c ON photo_looks (part_c);
CREATE INDEX photo_looks_d ON photo_looks (part_d);
