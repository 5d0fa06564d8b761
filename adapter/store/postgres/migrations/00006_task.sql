-- +goose Up
-- What this table said of the tasks of an order, their resources say.
DROP TABLE task;

-- +goose Down
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
