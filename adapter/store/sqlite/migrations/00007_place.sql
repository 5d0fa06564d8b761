-- +goose Up
-- Where resources are is kept in runs: see places.go. What the table resource
-- said is moved by the program that opens the store.

CREATE TABLE resource_run (
  n INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT, -- never given twice
  tier INT NOT NULL CHECK (tier >= 0),
  places INT NOT NULL CHECK (places >= 0) -- when it was made
) STRICT;

-- Places of a run, in order, from first up to that of the next row.
CREATE TABLE resource_place (
  run INT NOT NULL,
  first BLOB NOT NULL,
  body BLOB NOT NULL,
  PRIMARY KEY (run, first)
) STRICT, WITHOUT ROWID;

-- +goose Down
DROP TABLE resource_place;
DROP TABLE resource_run;
