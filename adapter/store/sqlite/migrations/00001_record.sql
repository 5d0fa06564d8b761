-- +goose Up
-- The record of one pharmacy. Times are microseconds since 1970, UTC, 0 for
-- none. Bodies are compressed (RFC 1952); resources are kept as they are.

PRAGMA application_id = 1466263922; -- "Weir"

CREATE TABLE document (
  id TEXT NOT NULL PRIMARY KEY,
  sha256 BLOB NOT NULL,      -- of the bytes as received
  received INT NOT NULL,
  media TEXT NOT NULL,
  size INT NOT NULL,          -- bytes as received
  body BLOB NOT NULL
) STRICT;

CREATE TABLE document_patient (
  patient TEXT NOT NULL,
  document TEXT NOT NULL REFERENCES document (id) ON DELETE CASCADE,
  PRIMARY KEY (patient, document)
) STRICT, WITHOUT ROWID;
CREATE INDEX document_patient_document ON document_patient (document);

-- A resource's current version; its content is in resource_version.
CREATE TABLE resource (
  type TEXT NOT NULL,
  id TEXT NOT NULL,
  version INT NOT NULL CHECK (version > 0),
  created INT NOT NULL,
  updated INT NOT NULL,
  patient TEXT NOT NULL,      -- '' for none
  PRIMARY KEY (type, id)
) STRICT, WITHOUT ROWID;
CREATE INDEX resource_updated ON resource (type, updated, id);
CREATE INDEX resource_patient ON resource (patient) WHERE patient <> '';

CREATE TABLE resource_version (
  type TEXT NOT NULL,
  id TEXT NOT NULL,
  version INT NOT NULL CHECK (version > 0),
  updated INT NOT NULL,
  document TEXT,
  body BLOB NOT NULL,
  PRIMARY KEY (type, id, version),
  FOREIGN KEY (type, id) REFERENCES resource (type, id) ON DELETE CASCADE
) STRICT;

CREATE TABLE identifier (
  type TEXT NOT NULL,
  value TEXT NOT NULL,
  system TEXT NOT NULL,       -- '' for none
  id TEXT NOT NULL,
  once INT NOT NULL CHECK (once IN (0, 1)),
  PRIMARY KEY (type, value, system, id),
  FOREIGN KEY (type, id) REFERENCES resource (type, id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX identifier_once ON identifier (type, system, value) WHERE once = 1;
CREATE INDEX identifier_resource ON identifier (type, id);

-- What a current resource is found by: a text, or a span from low up to, not
-- including, high.
CREATE TABLE search_value (
  type TEXT NOT NULL,
  name TEXT NOT NULL,
  text TEXT NOT NULL,
  low INT NOT NULL,
  high INT NOT NULL,
  system TEXT NOT NULL,
  id TEXT NOT NULL,
  PRIMARY KEY (type, name, text, low, high, system, id),
  FOREIGN KEY (type, id) REFERENCES resource (type, id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
CREATE INDEX search_value_resource ON search_value (type, id, name);

CREATE TABLE patient_case (
  patient TEXT NOT NULL PRIMARY KEY,
  version INT NOT NULL CHECK (version > 0),
  schema INT NOT NULL CHECK (schema > 0),
  updated INT NOT NULL,
  body BLOB NOT NULL
) STRICT;

-- An order's line in the worklist.
CREATE TABLE order_head (
  key TEXT NOT NULL PRIMARY KEY,
  number INT NOT NULL CHECK (number > 0),
  version TEXT NOT NULL,
  patient TEXT NOT NULL,
  resource TEXT NOT NULL,
  drug TEXT NOT NULL,
  state TEXT NOT NULL,
  verdict TEXT NOT NULL,
  stage TEXT NOT NULL,
  weight INT NOT NULL,
  due INT NOT NULL,
  updated INT NOT NULL
) STRICT;
CREATE INDEX order_head_list ON order_head (weight DESC, due, key);
CREATE INDEX order_head_patient ON order_head (patient);

-- The contents an order has had. One content comes once, unless the order
-- goes back to it (again).
CREATE TABLE order_version (
  key TEXT NOT NULL REFERENCES order_head (key),
  number INT NOT NULL CHECK (number > 0),
  version TEXT NOT NULL,
  again INT NOT NULL CHECK (again IN (0, 1)),
  document TEXT,
  sent INT NOT NULL,
  at INT NOT NULL,
  PRIMARY KEY (key, number)
) STRICT;
CREATE UNIQUE INDEX order_version_once ON order_version (key, version) WHERE again = 0;

CREATE TABLE worksheet (
  id TEXT NOT NULL PRIMARY KEY,
  key TEXT NOT NULL,
  number INT NOT NULL,
  stage TEXT NOT NULL,
  verdict TEXT NOT NULL,
  made INT NOT NULL,
  patient TEXT NOT NULL,
  body BLOB NOT NULL,
  FOREIGN KEY (key, number) REFERENCES order_version (key, number)
) STRICT;
CREATE INDEX worksheet_order ON worksheet (key, number, made);

CREATE TABLE task (
  id TEXT NOT NULL PRIMARY KEY,
  key TEXT NOT NULL,
  patient TEXT NOT NULL,
  code TEXT NOT NULL,
  role TEXT NOT NULL,
  status TEXT NOT NULL,
  due INT NOT NULL,
  updated INT NOT NULL
) STRICT;
CREATE INDEX task_order ON task (key, due, id);
CREATE INDEX task_patient ON task (patient);

CREATE TABLE outbox (
  id TEXT NOT NULL PRIMARY KEY,
  kind TEXT NOT NULL,
  target TEXT NOT NULL,
  patient TEXT NOT NULL,
  made INT NOT NULL,
  sent INT NOT NULL,
  body BLOB NOT NULL
) STRICT;
CREATE INDEX outbox_unsent ON outbox (made, id) WHERE sent = 0;
CREATE INDEX outbox_patient ON outbox (patient);

CREATE TABLE work (
  id TEXT NOT NULL PRIMARY KEY,
  kind TEXT NOT NULL,
  patient TEXT NOT NULL,
  made INT NOT NULL,
  done INT NOT NULL,
  body BLOB NOT NULL
) STRICT;
CREATE INDEX work_undone ON work (made, id) WHERE done = 0;
CREATE INDEX work_patient ON work (patient);

CREATE TABLE reply (
  key TEXT NOT NULL PRIMARY KEY,
  sha256 BLOB NOT NULL,
  status INT NOT NULL,
  patient TEXT NOT NULL,
  made INT NOT NULL,
  body BLOB NOT NULL
) STRICT;
CREATE INDEX reply_patient ON reply (patient);

-- Who did what. Only private may hold patient data.
CREATE TABLE audit (
  id TEXT NOT NULL PRIMARY KEY,
  at INT NOT NULL,
  action TEXT NOT NULL,
  outcome TEXT NOT NULL,
  agent TEXT NOT NULL,
  patient TEXT NOT NULL,
  entity TEXT NOT NULL,
  request TEXT NOT NULL,
  detail TEXT NOT NULL,
  private BLOB NOT NULL
) STRICT;
CREATE INDEX audit_at ON audit (at, id);
CREATE INDEX audit_patient ON audit (patient, at);
CREATE INDEX audit_entity ON audit (entity, at);

-- +goose Down
DROP TABLE audit;
DROP TABLE reply;
DROP TABLE work;
DROP TABLE outbox;
DROP TABLE task;
DROP TABLE worksheet;
DROP TABLE order_version;
DROP TABLE order_head;
DROP TABLE patient_case;
DROP TABLE search_value;
DROP TABLE identifier;
DROP TABLE resource_version;
DROP TABLE resource;
DROP TABLE document_patient;
DROP TABLE document;
