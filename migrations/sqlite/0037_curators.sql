-- +goose Up
-- Home lists who decides, and news goes to all curators: few of many people.
CREATE INDEX people_curators ON people (id) WHERE role = 'curator';
