-- +goose Up
-- Letters are written while their reader is not there to say in which language. What somebody has chosen stands with the account
-- and goes with it.
ALTER TABLE accounts ADD COLUMN language text COLLATE "C" NOT NULL DEFAULT ''; -- BCP 47 tag; empty: never chosen
