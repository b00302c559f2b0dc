-- +goose Up
-- Which club this database is of. The photo folder and the key file carry the same id, so that none of them is taken for
-- another club's. The row is made when a club is opened for the first time; settled once folder and key carry its id.
CREATE TABLE club (
    one     integer          NOT NULL PRIMARY KEY CHECK (one = 1), -- there is one row
    id      text COLLATE "C" NOT NULL CHECK (id <> ''),
    settled boolean          NOT NULL
);
