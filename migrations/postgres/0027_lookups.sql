-- +goose Up
-- A line of a list is joined to its specimen and to the name of its owner, fifty a page. A B-tree is a step deeper for
-- every hundredfold of its rows, and was the greater part of what made a page of a million slower than one of ten thousand:
-- 409 buffers against 268; by their hash the same rows are found in as few steps however many there are, 260.
CREATE INDEX specimens_hash ON specimens USING hash (id);
CREATE INDEX people_hash ON people USING hash (id);
