-- +goose Up
-- What pages ask for has to be found without replaying events. These rows are copies of what the events make and may be
-- made again from them at any time: body is the whole value as JSON, the other columns are what queries look at.
-- Label data stand in specimens alone, so that a corrected label shows in every list at once.
CREATE TABLE specimens (
    id               text COLLATE "C" NOT NULL PRIMARY KEY,
    seq              bigint           NOT NULL CHECK (seq >= 1),
    owner            text             NOT NULL,
    catalogue_number text             NOT NULL,
    trip             text             NOT NULL,
    storage_place    text             NOT NULL,
    search           text             NOT NULL, -- catalogue number without case
    body             text             NOT NULL CHECK (body::json IS NOT NULL)
);
CREATE INDEX specimens_trip ON specimens (trip) WHERE trip <> '';
CREATE INDEX specimens_storage_place ON specimens (storage_place) WHERE storage_place <> '';

CREATE TABLE submissions (
    id              text COLLATE "C" NOT NULL PRIMARY KEY,
    seq             bigint           NOT NULL CHECK (seq >= 1),
    specimen_id     text COLLATE "C" NOT NULL REFERENCES specimens (id),
    owner           text             NOT NULL,
    status          text             NOT NULL CHECK (status IN ('draft', 'open', 'returned', 'confirmed', 'redetermined', 'undetermined', 'withdrawn')),
    family          text             NOT NULL,
    scientific_name text             NOT NULL,
    qualifier       text             NOT NULL CHECK (qualifier IN ('', '?', 'cf.', 'aff.')),
    search          text             NOT NULL, -- family and scientific name without case
    confidence      double precision NOT NULL CHECK (confidence BETWEEN 0 AND 1),
    leading_family  text             NOT NULL,
    contradictions  bigint           NOT NULL CHECK (contradictions >= 0),
    photo           text             NOT NULL,
    reviewers       bigint           NOT NULL CHECK (reviewers >= 0),
    gain            double precision NOT NULL CHECK (gain BETWEEN 0 AND 1), -- bits
    drafted_at      timestamptz      NOT NULL,
    changed_at      timestamptz      NOT NULL,
    opened_at       timestamptz,
    opened_unix     double precision, -- opened_at in seconds since 1970, for arithmetic
    hold_by         text             NOT NULL,
    hold_until      timestamptz,
    body            text             NOT NULL CHECK (body::json IS NOT NULL),
    CHECK ((opened_at IS NULL) = (opened_unix IS NULL)),
    CHECK (status <> 'open' OR opened_at IS NOT NULL),
    CHECK (status <> 'draft' OR opened_at IS NULL),
    CHECK ((hold_by = '') = (hold_until IS NULL))
);
CREATE INDEX submissions_changed ON submissions (changed_at, id);
CREATE INDEX submissions_status ON submissions (status, changed_at, id);
CREATE INDEX submissions_owner ON submissions (owner, changed_at, id);
CREATE INDEX submissions_family ON submissions (family, changed_at, id);
CREATE INDEX submissions_specimen ON submissions (specimen_id, drafted_at, id);
CREATE INDEX submissions_doubtful ON submissions (changed_at, id) WHERE contradictions > 0;
CREATE INDEX submissions_queue ON submissions (family) WHERE status = 'open';

CREATE TABLE policies (
    version bigint NOT NULL PRIMARY KEY CHECK (version >= 1),
    body    text   NOT NULL CHECK (body::json IS NOT NULL)
);
