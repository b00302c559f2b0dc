-- +goose Up
-- A page of a list must take the same time however large the collection is, whatever the list is narrowed by: so there is
-- an index in its order for every filter, with the status beside it, and none holds what nobody but the owner may see.
DROP INDEX submissions_changed;
DROP INDEX submissions_status;
DROP INDEX submissions_family;
DROP INDEX submissions_group;
DROP INDEX submissions_doubtful;
CREATE INDEX submissions_changed ON submissions (changed_at, id) WHERE opened_at IS NOT NULL;
CREATE INDEX submissions_status ON submissions (status, changed_at, id) WHERE opened_at IS NOT NULL;
CREATE INDEX submissions_family ON submissions (family, changed_at, id) WHERE opened_at IS NOT NULL;
CREATE INDEX submissions_family_status ON submissions (family, status, changed_at, id) WHERE opened_at IS NOT NULL;
CREATE INDEX submissions_group ON submissions (group_id, changed_at, id) WHERE opened_at IS NOT NULL;
CREATE INDEX submissions_group_status ON submissions (group_id, status, changed_at, id) WHERE opened_at IS NOT NULL;
CREATE INDEX submissions_owner_status ON submissions (owner, status, changed_at, id);
CREATE INDEX submissions_doubtful ON submissions (changed_at, id)
    WHERE contradictions > 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_doubtful_owner ON submissions (owner, changed_at, id) WHERE contradictions > 0;

-- Every three characters in a row of a text are one key of an index, so that a text is found by what it contains. Two
-- line breaks stand before each of the joined texts: with them a shorter text than three is looked for at their beginning.
-- Not by the extension for it: that one passes over signs, and over every letter beyond ASCII in some locales.
-- +goose StatementBegin
CREATE FUNCTION trigrams(searched text) RETURNS text[] LANGUAGE sql IMMUTABLE STRICT PARALLEL SAFE AS $$
    SELECT COALESCE(array_agg(DISTINCT substr(searched, i, 3) COLLATE "C"), '{}') FROM generate_series(1, length(searched) - 2) AS i
$$;
-- +goose StatementEnd
UPDATE submissions SET search = E'\n\n' || replace(search, E'\n', E'\n\n');
UPDATE specimens SET search = E'\n\n' || search;
CREATE INDEX submissions_search ON submissions USING gin (trigrams(search));
CREATE INDEX specimens_search ON specimens USING gin (trigrams(search));

-- A person is found by the beginning of any word of their name. The program folds case as no database does, so that it
-- fills this in by itself, and erases it with the name.
CREATE TABLE person_names (
    person text COLLATE "C" NOT NULL REFERENCES people (id) ON DELETE CASCADE,
    place  bigint           NOT NULL CHECK (place >= 0), -- of the word
    start  text COLLATE "C" NOT NULL, -- the name from that word on, without case
    PRIMARY KEY (person, place)
);
CREATE INDEX person_names_start ON person_names (start, person);
CREATE INDEX person_names_whole ON person_names (start, person) WHERE place = 0;
