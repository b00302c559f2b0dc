-- +goose Up
-- A catalogue number that is typed whole is looked for by itself: in a large collection its parts are in every other one,
-- so that the index of three characters in a row finds it late. The search text of a specimen is its number.
CREATE INDEX specimens_number ON specimens (search);
