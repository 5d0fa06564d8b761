-- +goose Up
-- The record of one pharmacy. Times are microseconds since 1970, UTC, 0 for
-- none. Bodies are compressed (RFC 1952); resources are kept as they are.

CREATE TABLE document (
  id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  sha256 BYTEA NOT NULL,      -- of the bytes as received
  received BIGINT NOT NULL,
  media TEXT COLLATE "C" NOT NULL,
  size BIGINT NOT NULL,          -- bytes as received
  body BYTEA NOT NULL
);

CREATE TABLE document_patient (
  patient TEXT COLLATE "C" NOT NULL,
  document TEXT COLLATE "C" NOT NULL REFERENCES document (id) ON DELETE CASCADE,
  PRIMARY KEY (patient, document)
);
CREATE INDEX document_patient_document ON document_patient (document);

-- A resource's current version; its content is in resource_version.
CREATE TABLE resource (
  type TEXT COLLATE "C" NOT NULL,
  id TEXT COLLATE "C" NOT NULL,
  version BIGINT NOT NULL CHECK (version > 0),
  created BIGINT NOT NULL,
  updated BIGINT NOT NULL,
  patient TEXT COLLATE "C" NOT NULL,      -- '' for none
  PRIMARY KEY (type, id)
);
CREATE INDEX resource_updated ON resource (type, updated, id);
CREATE INDEX resource_patient ON resource (patient) WHERE patient <> '';

CREATE TABLE resource_version (
  type TEXT COLLATE "C" NOT NULL,
  id TEXT COLLATE "C" NOT NULL,
  version BIGINT NOT NULL CHECK (version > 0),
  updated BIGINT NOT NULL,
  document TEXT COLLATE "C",
  body BYTEA NOT NULL,
  PRIMARY KEY (type, id, version),
  FOREIGN KEY (type, id) REFERENCES resource (type, id) ON DELETE CASCADE
);

CREATE TABLE identifier (
  type TEXT COLLATE "C" NOT NULL,
  value TEXT COLLATE "C" NOT NULL,
  system TEXT COLLATE "C" NOT NULL,       -- '' for none
  id TEXT COLLATE "C" NOT NULL,
  once BIGINT NOT NULL CHECK (once IN (0, 1)),
  PRIMARY KEY (type, value, system, id),
  FOREIGN KEY (type, id) REFERENCES resource (type, id) ON DELETE CASCADE
);
CREATE UNIQUE INDEX identifier_once ON identifier (type, system, value) WHERE once = 1;
CREATE INDEX identifier_resource ON identifier (type, id);

-- What a current resource is found by: a text, or a span from low up to, not
-- including, high.
CREATE TABLE search_value (
  type TEXT COLLATE "C" NOT NULL,
  name TEXT COLLATE "C" NOT NULL,
  text TEXT COLLATE "C" NOT NULL,
  low BIGINT NOT NULL,
  high BIGINT NOT NULL,
  system TEXT COLLATE "C" NOT NULL,
  id TEXT COLLATE "C" NOT NULL,
  PRIMARY KEY (type, name, text, low, high, system, id),
  FOREIGN KEY (type, id) REFERENCES resource (type, id) ON DELETE CASCADE
);
CREATE INDEX search_value_resource ON search_value (type, id, name);

CREATE TABLE patient_case (
  patient TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  version BIGINT NOT NULL CHECK (version > 0),
  schema BIGINT NOT NULL CHECK (schema > 0),
  updated BIGINT NOT NULL,
  body BYTEA NOT NULL
);

-- An order's line in the worklist.
CREATE TABLE order_head (
  key TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  number BIGINT NOT NULL CHECK (number > 0),
  version TEXT COLLATE "C" NOT NULL,
  patient TEXT COLLATE "C" NOT NULL,
  resource TEXT COLLATE "C" NOT NULL,
  drug TEXT COLLATE "C" NOT NULL,
  state TEXT COLLATE "C" NOT NULL,
  verdict TEXT COLLATE "C" NOT NULL,
  stage TEXT COLLATE "C" NOT NULL,
  weight BIGINT NOT NULL,
  due BIGINT NOT NULL,
  updated BIGINT NOT NULL
);
CREATE INDEX order_head_list ON order_head (weight DESC, due, key);
CREATE INDEX order_head_patient ON order_head (patient);

-- The contents an order has had. One content comes once, unless the order
-- goes back to it (again).
CREATE TABLE order_version (
  key TEXT COLLATE "C" NOT NULL REFERENCES order_head (key),
  number BIGINT NOT NULL CHECK (number > 0),
  version TEXT COLLATE "C" NOT NULL,
  again BIGINT NOT NULL CHECK (again IN (0, 1)),
  document TEXT COLLATE "C",
  sent BIGINT NOT NULL,
  at BIGINT NOT NULL,
  PRIMARY KEY (key, number)
);
CREATE UNIQUE INDEX order_version_once ON order_version (key, version) WHERE again = 0;

CREATE TABLE worksheet (
  id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  key TEXT COLLATE "C" NOT NULL,
  number BIGINT NOT NULL,
  stage TEXT COLLATE "C" NOT NULL,
  verdict TEXT COLLATE "C" NOT NULL,
  made BIGINT NOT NULL,
  patient TEXT COLLATE "C" NOT NULL,
  body BYTEA NOT NULL,
  FOREIGN KEY (key, number) REFERENCES order_version (key, number)
);
CREATE INDEX worksheet_order ON worksheet (key, number, made);

CREATE TABLE task (
  id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  key TEXT COLLATE "C" NOT NULL,
  patient TEXT COLLATE "C" NOT NULL,
  code TEXT COLLATE "C" NOT NULL,
  role TEXT COLLATE "C" NOT NULL,
  status TEXT COLLATE "C" NOT NULL,
  due BIGINT NOT NULL,
  updated BIGINT NOT NULL
);
CREATE INDEX task_order ON task (key, due, id);
CREATE INDEX task_patient ON task (patient);

CREATE TABLE outbox (
  id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  kind TEXT COLLATE "C" NOT NULL,
  target TEXT COLLATE "C" NOT NULL,
  patient TEXT COLLATE "C" NOT NULL,
  made BIGINT NOT NULL,
  sent BIGINT NOT NULL,
  body BYTEA NOT NULL
);
CREATE INDEX outbox_unsent ON outbox (made, id) WHERE sent = 0;
CREATE INDEX outbox_patient ON outbox (patient);

CREATE TABLE work (
  id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  kind TEXT COLLATE "C" NOT NULL,
  patient TEXT COLLATE "C" NOT NULL,
  made BIGINT NOT NULL,
  done BIGINT NOT NULL,
  body BYTEA NOT NULL
);
CREATE INDEX work_undone ON work (made, id) WHERE done = 0;
CREATE INDEX work_patient ON work (patient);

CREATE TABLE reply (
  key TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  sha256 BYTEA NOT NULL,
  status BIGINT NOT NULL,
  patient TEXT COLLATE "C" NOT NULL,
  made BIGINT NOT NULL,
  body BYTEA NOT NULL
);
CREATE INDEX reply_patient ON reply (patient);

-- Who did what. Only private may hold patient data.
CREATE TABLE audit (
  id TEXT COLLATE "C" NOT NULL PRIMARY KEY,
  at BIGINT NOT NULL,
  action TEXT COLLATE "C" NOT NULL,
  outcome TEXT COLLATE "C" NOT NULL,
  agent TEXT COLLATE "C" NOT NULL,
  patient TEXT COLLATE "C" NOT NULL,
  entity TEXT COLLATE "C" NOT NULL,
  request TEXT COLLATE "C" NOT NULL,
  detail TEXT COLLATE "C" NOT NULL,
  private BYTEA NOT NULL
);
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
