-- +goose Up
-- Whoever audits a collection looks for it by person, by kind of contradiction and by release of the tables, too. Copies of what
-- stands in the bodies, as in 0002. against has a bit for each kind: 1 excluded, 2 incompatible, 4 combination, 8 better-fit,
-- 16 unusual, 32 unseen. release is the hash of the tables that a determination was last judged with.
ALTER TABLE submissions ADD COLUMN against INTEGER NOT NULL DEFAULT 0 CHECK (against BETWEEN 0 AND 63);
ALTER TABLE submissions ADD COLUMN release TEXT NOT NULL DEFAULT '';
UPDATE submissions SET release = COALESCE(json_extract(body, '$.assessment.tables_hash'), '');
UPDATE submissions SET against = (SELECT COALESCE(sum(b), 0) FROM (SELECT DISTINCT CASE json_extract(c.value, '$.kind') WHEN 'excluded' THEN 1 WHEN 'incompatible' THEN 2
        WHEN 'combination' THEN 4 WHEN 'better-fit' THEN 8 WHEN 'unusual' THEN 16 WHEN 'unseen' THEN 32 ELSE 0 END AS b
    FROM json_each(submissions.body, '$.assessment.contradictions') AS c))
WHERE contradictions > 0;
CREATE INDEX submissions_excluded ON submissions (changed_at, id) WHERE (against & 1) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_incompatible ON submissions (changed_at, id) WHERE (against & 2) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_combination ON submissions (changed_at, id) WHERE (against & 4) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_better_fit ON submissions (changed_at, id) WHERE (against & 8) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_unusual ON submissions (changed_at, id) WHERE (against & 16) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_unseen ON submissions (changed_at, id) WHERE (against & 32) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_excluded_family ON submissions (family, changed_at, id) WHERE (against & 1) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_incompatible_family ON submissions (family, changed_at, id) WHERE (against & 2) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_combination_family ON submissions (family, changed_at, id) WHERE (against & 4) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_better_fit_family ON submissions (family, changed_at, id) WHERE (against & 8) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_unusual_family ON submissions (family, changed_at, id) WHERE (against & 16) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_unseen_family ON submissions (family, changed_at, id) WHERE (against & 32) <> 0 AND opened_at IS NOT NULL AND status NOT IN ('open', 'returned');
CREATE INDEX submissions_release ON submissions (release, changed_at, id) WHERE opened_at IS NOT NULL;
CREATE INDEX submissions_determiner ON submissions (determiner, changed_at, id) WHERE opened_at IS NOT NULL;

-- What of a label everybody may read is looked for together with the catalogue number; the program folds case as no database
-- does, so that it fills this in by itself.
ALTER TABLE specimens ADD COLUMN label_search TEXT NOT NULL DEFAULT ''; -- never empty once it is filled in
CREATE INDEX specimens_unsearched ON specimens (id) WHERE label_search = '';
DROP TRIGGER specimens_search_added;
DROP TRIGGER specimens_search_changed;
-- +goose StatementBegin
CREATE TRIGGER specimens_search_added AFTER INSERT ON specimens BEGIN
    INSERT INTO searched (specimen_id) VALUES (NEW.id);
    INSERT INTO trigrams (rowid, search) SELECT number, NEW.search || NEW.label_search FROM searched WHERE specimen_id = NEW.id;
END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER specimens_search_changed AFTER UPDATE OF search, label_search ON specimens WHEN NEW.search <> OLD.search OR NEW.label_search <> OLD.label_search BEGIN
    DELETE FROM trigrams WHERE rowid = (SELECT number FROM searched WHERE specimen_id = NEW.id);
    INSERT INTO trigrams (rowid, search) SELECT number, NEW.search || NEW.label_search FROM searched WHERE specimen_id = NEW.id;
END;
-- +goose StatementEnd

-- What people said of submissions that are closed; of others it is sealed, and has no row. Made with the submission, with its time.
CREATE TABLE said (
    person        TEXT    NOT NULL,
    submission_id TEXT    NOT NULL REFERENCES submissions (id) ON DELETE CASCADE,
    changed_at    TEXT    NOT NULL,
    confirmed     INTEGER NOT NULL CHECK (confirmed >= 0), -- observations
    disputed      INTEGER NOT NULL CHECK (disputed >= 0),
    opinion       TEXT    NOT NULL CHECK (opinion IN ('', 'agrees', 'another', 'left-open')),
    PRIMARY KEY (submission_id, person)
) STRICT, WITHOUT ROWID;
CREATE INDEX said_person ON said (person, changed_at, submission_id);
CREATE INDEX said_confirmed ON said (person, changed_at, submission_id) WHERE confirmed > 0;
CREATE INDEX said_disputed ON said (person, changed_at, submission_id) WHERE disputed > 0;
CREATE INDEX said_opinion ON said (person, opinion, changed_at, submission_id);
INSERT INTO said
    SELECT by_whom, id, changed_at, sum(confirmed), sum(disputed), max(opinion) FROM (
        SELECT s.id, s.changed_at, json_extract(v.value, '$.by') AS by_whom, json_extract(v.value, '$.kind') = 'confirm' AS confirmed,
            json_extract(v.value, '$.kind') = 'dispute' AS disputed, '' AS opinion
        FROM submissions AS s, json_each(s.body, '$.verdicts') AS v WHERE s.status NOT IN ('draft', 'open', 'returned') AND s.opened_at IS NOT NULL
        UNION ALL
        SELECT s.id, s.changed_at, json_extract(o.value, '$.by'), 0, 0, json_extract(o.value, '$.kind')
        FROM submissions AS s, json_each(s.body, '$.opinions') AS o WHERE s.status NOT IN ('draft', 'open', 'returned') AND s.opened_at IS NOT NULL
    ) GROUP BY by_whom, id;

-- Which submissions came before reviewers, were settled, followed by another, reopened or taken back between two times is asked of
-- the events themselves.
CREATE INDEX events_turns ON events (kind, at, stream, seq)
    WHERE kind IN ('submitted', 'confirmed', 'redetermined', 'undetermined', 'withdrawn', 'reopened');

-- What an act left that closed the last submission of a specimen (testimony), or completed a panel (panel): what figures of a
-- period are worked out from. A row is written by that act and never changed by a later one. kind and subject tell which.
CREATE TABLE closings (
    group_id TEXT NOT NULL,
    kind     TEXT NOT NULL CHECK (kind IN ('testimony', 'panel')),
    at       TEXT NOT NULL,
    subject  TEXT NOT NULL, -- id of the specimen, or of the submission
    body     TEXT NOT NULL CHECK (json_valid(body)),
    PRIMARY KEY (group_id, kind, at, subject)
) STRICT, WITHOUT ROWID;

-- Searches that somebody wants to make again: of nobody else's concern, and in no event.
CREATE TABLE saved_searches (
    id     TEXT NOT NULL PRIMARY KEY,
    person TEXT NOT NULL,
    name   TEXT NOT NULL,
    query  TEXT NOT NULL, -- of the address of the list
    at     TEXT NOT NULL
) STRICT, WITHOUT ROWID;
CREATE INDEX saved_searches_person ON saved_searches (person, at, id);
