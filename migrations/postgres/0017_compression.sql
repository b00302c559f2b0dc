-- +goose Up
-- Long texts are compressed by LZ4 where the server has it (PostgreSQL 14, built with it): packing them as before was a good
-- part of what storing an act cost the server. Rows that are stored already stay as they are, and are read alike.
-- +goose StatementBegin
DO $$
DECLARE
  long record;
BEGIN
  IF current_setting('server_version_num')::integer < 140000 THEN
    RETURN;
  END IF;
  FOR long IN
    SELECT attrelid::regclass AS of, attname AS name FROM pg_attribute JOIN pg_class ON pg_class.oid = attrelid
    WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r' AND attstorage = 'x' AND attname IN ('data', 'body', 'files')
  LOOP
    EXECUTE format('ALTER TABLE %s ALTER COLUMN %I SET COMPRESSION lz4', long.of, long.name);
  END LOOP;
EXCEPTION WHEN feature_not_supported THEN
  RAISE NOTICE 'this server is built without LZ4; texts are compressed as before';
END
$$;
-- +goose StatementEnd
