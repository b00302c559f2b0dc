-- +goose Up
-- How often members mention a character who tell freely is learnt from closed specimens: what their lists mention, with the
-- states that others saw blind or with the specimen in hand. What is known stands with the snapshot of reliability, apart,
-- because every act reads it.
ALTER TABLE reliabilities ADD COLUMN mentions text NOT NULL DEFAULT '{}' CHECK (mentions::json IS NOT NULL);

-- What is said of closed specimens holds the lists now: it is made again where somebody told freely.
UPDATE testimonies SET body = '' WHERE specimen_id IN (SELECT id FROM specimens WHERE body LIKE '%"list":"free"%');
