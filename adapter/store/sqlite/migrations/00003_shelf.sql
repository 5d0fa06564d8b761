-- +goose Up
-- Resources are kept many to a row: see shelf.go. What was kept one to a row
-- is moved by the program that opens the store, from the tables renamed here.

ALTER TABLE resource RENAME TO former_resource;
ALTER TABLE resource_version RENAME TO former_version;
ALTER TABLE identifier RENAME TO former_identifier;
ALTER TABLE search_value RENAME TO former_value;
DROP INDEX identifier_once;
DROP INDEX identifier_resource;
ALTER TABLE task RENAME TO former_task;

CREATE TABLE shelf (
  n INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, -- never given twice
  version INT NOT NULL CHECK (version > 0),
  patient TEXT NOT NULL,      -- '' for none
  label TEXT NOT NULL,
  part INT NOT NULL,
  updated INT NOT NULL,       -- the newest of its resources
  members INT NOT NULL,       -- how many
  body BLOB NOT NULL,
  UNIQUE (patient, label, part)
) STRICT;

-- What of a shelf was replaced when it became a version.
CREATE TABLE shelf_past (
  shelf INT NOT NULL REFERENCES shelf (n) ON DELETE CASCADE,
  version INT NOT NULL,
  body BLOB NOT NULL,
  PRIMARY KEY (shelf, version)
) STRICT;

-- Where a resource is: place is made of its type and id.
CREATE TABLE resource (
  place BLOB NOT NULL PRIMARY KEY,
  shelf INT NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE identifier (
  type TEXT NOT NULL,
  value TEXT NOT NULL,
  system TEXT NOT NULL,       -- '' for none
  shelf INT NOT NULL,
  slot INT NOT NULL,
  once INT NOT NULL CHECK (once IN (0, 1)),
  PRIMARY KEY (type, value, system, shelf, slot)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX identifier_once ON identifier (type, system, value) WHERE once = 1;
CREATE INDEX identifier_shelf ON identifier (shelf, slot);

-- Which slots of a shelf hold resources that have a value: a text, or a span
-- from low up to, not including, high. Spans from 1 to 0 stand for values
-- that name resources of the same shelf.
CREATE TABLE search_value (
  param INT NOT NULL,         -- number of a type and a parameter: see brief
  text TEXT NOT NULL,
  low INT NOT NULL,
  high INT NOT NULL,
  shelf INT NOT NULL,
  system INT NOT NULL,        -- number of a text, 0 for none
  bits BLOB NOT NULL,
  PRIMARY KEY (param, text, low, high, shelf, system)
) STRICT, WITHOUT ROWID;

-- Those of one order lie together.
CREATE TABLE task (
  patient TEXT NOT NULL,
  key TEXT NOT NULL,
  id TEXT NOT NULL,
  code TEXT NOT NULL,
  role TEXT NOT NULL,
  status TEXT NOT NULL,
  due INT NOT NULL,
  updated INT NOT NULL,
  PRIMARY KEY (patient, key, id)
) STRICT, WITHOUT ROWID;
INSERT INTO task SELECT patient, key, id, code, role, status, due, updated FROM former_task;
DROP TABLE former_task;

-- Further things that the same was done to, each between two ends of a line.
ALTER TABLE audit ADD COLUMN also TEXT NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE audit DROP COLUMN also;
DROP TABLE task;
DROP TABLE search_value;
DROP TABLE identifier;
DROP TABLE resource;
DROP TABLE shelf_past;
DROP TABLE shelf;
ALTER TABLE former_resource RENAME TO resource;
ALTER TABLE former_version RENAME TO resource_version;
ALTER TABLE former_identifier RENAME TO identifier;
ALTER TABLE former_value RENAME TO search_value;
