-- +goose Up
-- What this table said of the tasks of an order, their resources say.
DROP TABLE task;

-- +goose Down
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
