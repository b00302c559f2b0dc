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
-- Numbers of rows are not for keeping in SQLite, so that searched gives each text one of its own.
UPDATE submissions SET search = char(10, 10) || replace(search, char(10), char(10, 10));
UPDATE specimens SET search = char(10, 10) || search;
CREATE TABLE searched (
    number        INTEGER PRIMARY KEY,
    submission_id TEXT UNIQUE REFERENCES submissions (id) ON DELETE CASCADE,
    specimen_id   TEXT UNIQUE REFERENCES specimens (id) ON DELETE CASCADE,
    CHECK ((submission_id IS NULL) <> (specimen_id IS NULL))
) STRICT;
CREATE VIRTUAL TABLE trigrams USING fts5 (search, content = '', contentless_delete = 1, tokenize = 'trigram case_sensitive 1');
INSERT INTO searched (submission_id) SELECT id FROM submissions;
INSERT INTO searched (specimen_id) SELECT id FROM specimens;
INSERT INTO trigrams (rowid, search) SELECT n.number, s.search FROM searched AS n JOIN submissions AS s ON s.id = n.submission_id;
INSERT INTO trigrams (rowid, search) SELECT n.number, s.search FROM searched AS n JOIN specimens AS s ON s.id = n.specimen_id;

-- +goose StatementBegin
CREATE TRIGGER submissions_search_added AFTER INSERT ON submissions BEGIN
    INSERT INTO searched (submission_id) VALUES (NEW.id);
    INSERT INTO trigrams (rowid, search) SELECT number, NEW.search FROM searched WHERE submission_id = NEW.id;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER submissions_search_changed AFTER UPDATE OF search ON submissions WHEN NEW.search <> OLD.search BEGIN
    DELETE FROM trigrams WHERE rowid = (SELECT number FROM searched WHERE submission_id = NEW.id);
    INSERT INTO trigrams (rowid, search) SELECT number, NEW.search FROM searched WHERE submission_id = NEW.id;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER specimens_search_added AFTER INSERT ON specimens BEGIN
    INSERT INTO searched (specimen_id) VALUES (NEW.id);
    INSERT INTO trigrams (rowid, search) SELECT number, NEW.search FROM searched WHERE specimen_id = NEW.id;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER specimens_search_changed AFTER UPDATE OF search ON specimens WHEN NEW.search <> OLD.search BEGIN
    DELETE FROM trigrams WHERE rowid = (SELECT number FROM searched WHERE specimen_id = NEW.id);
    INSERT INTO trigrams (rowid, search) SELECT number, NEW.search FROM searched WHERE specimen_id = NEW.id;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER searched_removed AFTER DELETE ON searched BEGIN
    DELETE FROM trigrams WHERE rowid = OLD.number;
END;
-- +goose StatementEnd

-- A person is found by the beginning of any word of their name. The program folds case as no database does, so that it
-- fills this in by itself, and erases it with the name.
CREATE TABLE person_names (
    person TEXT    NOT NULL REFERENCES people (id) ON DELETE CASCADE,
    place  INTEGER NOT NULL CHECK (place >= 0), -- of the word
    start  TEXT    NOT NULL, -- the name from that word on, without case
    PRIMARY KEY (person, place)
) STRICT, WITHOUT ROWID;
CREATE INDEX person_names_start ON person_names (start, person);
CREATE INDEX person_names_whole ON person_names (start, person) WHERE place = 0;
