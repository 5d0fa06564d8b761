-- +goose Up
-- Resources are kept many to a row: see shelf.go. What was kept one to a row
-- is moved by the program that opens the store, from the tables renamed here.

ALTER TABLE resource RENAME TO former_resource;
ALTER TABLE resource_version RENAME TO former_version;
ALTER TABLE identifier RENAME TO former_identifier;
ALTER TABLE search_value RENAME TO former_value;
ALTER INDEX resource_pkey RENAME TO former_resource_pkey;
ALTER INDEX identifier_pkey RENAME TO former_identifier_pkey;
ALTER INDEX search_value_pkey RENAME TO former_value_pkey;
DROP INDEX identifier_once;
DROP INDEX identifier_resource;
ALTER TABLE task RENAME TO former_task;
ALTER INDEX task_pkey RENAME TO former_task_pkey;

CREATE TABLE shelf (
  n BIGINT NOT NULL PRIMARY KEY,
  version BIGINT NOT NULL CHECK (version > 0),
  patient TEXT COLLATE "C" NOT NULL,      -- '' for none
  label TEXT COLLATE "C" NOT NULL,
  part BIGINT NOT NULL,
  updated BIGINT NOT NULL,       -- the newest of its resources
  members BIGINT NOT NULL,       -- how many
  body BYTEA NOT NULL,
  UNIQUE (patient, label, part)
);

ALTER TABLE shelf ALTER body SET STORAGE EXTERNAL; -- compressed already
CREATE SEQUENCE shelf_number INCREMENT BY 1000;

-- What of a shelf was replaced when it became a version.
CREATE TABLE shelf_past (
  shelf BIGINT NOT NULL REFERENCES shelf (n) ON DELETE CASCADE,
  version BIGINT NOT NULL,
  body BYTEA NOT NULL,
  PRIMARY KEY (shelf, version)
);

-- Where a resource is: place is made of its type and id.
CREATE TABLE resource (
  place BYTEA NOT NULL PRIMARY KEY,
  shelf BIGINT NOT NULL
);

CREATE TABLE identifier (
  type TEXT COLLATE "C" NOT NULL,
  value TEXT COLLATE "C" NOT NULL,
  system TEXT COLLATE "C" NOT NULL,       -- '' for none
  shelf BIGINT NOT NULL,
  slot BIGINT NOT NULL,
  once BIGINT NOT NULL CHECK (once IN (0, 1)),
  PRIMARY KEY (type, value, system, shelf, slot)
);
CREATE UNIQUE INDEX identifier_once ON identifier (type, system, value) WHERE once = 1;
CREATE INDEX identifier_shelf ON identifier (shelf, slot);

-- Which slots of a shelf hold resources that have a value: a text, or a span
-- from low up to, not including, high. Spans from 1 to 0 stand for values
-- that name resources of the same shelf.
CREATE TABLE search_value (
  param BIGINT NOT NULL,         -- number of a type and a parameter: see brief
  text TEXT COLLATE "C" NOT NULL,
  low BIGINT NOT NULL,
  high BIGINT NOT NULL,
  shelf BIGINT NOT NULL,
  system BIGINT NOT NULL,        -- number of a text, 0 for none
  bits BYTEA NOT NULL,
  PRIMARY KEY (param, text, low, high, shelf, system)
);

-- Those of one order lie together.
CREATE TABLE task (
  patient TEXT COLLATE "C" NOT NULL,
  key TEXT COLLATE "C" NOT NULL,
  id TEXT COLLATE "C" NOT NULL,
  code TEXT COLLATE "C" NOT NULL,
  role TEXT COLLATE "C" NOT NULL,
  status TEXT COLLATE "C" NOT NULL,
  due BIGINT NOT NULL,
  updated BIGINT NOT NULL,
  PRIMARY KEY (patient, key, id)
);
INSERT INTO task SELECT patient, key, id, code, role, status, due, updated FROM former_task;
DROP TABLE former_task;

-- Further things that the same was done to, each between two ends of a line.
ALTER TABLE audit ADD COLUMN also TEXT COLLATE "C" NOT NULL DEFAULT '';

-- +goose Down
ALTER TABLE audit DROP COLUMN also;
DROP TABLE task;
DROP TABLE search_value;
DROP TABLE identifier;
DROP TABLE resource;
DROP TABLE shelf_past;
DROP TABLE shelf;
DROP SEQUENCE shelf_number;
ALTER TABLE former_resource RENAME TO resource;
ALTER TABLE former_version RENAME TO resource_version;
ALTER TABLE former_identifier RENAME TO identifier;
ALTER TABLE former_value RENAME TO search_value;
