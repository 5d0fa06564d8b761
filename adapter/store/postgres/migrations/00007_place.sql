-- +goose Up
-- Where resources are is kept in runs: see places.go. What the table resource
-- said is moved by the program that opens the store.

CREATE TABLE resource_run (
  n BIGINT NOT NULL PRIMARY KEY,
  tier BIGINT NOT NULL CHECK (tier >= 0),
  places BIGINT NOT NULL CHECK (places >= 0) -- when it was made
);

-- Places of a run, in order, from first up to that of the next row.
CREATE TABLE resource_place (
  run BIGINT NOT NULL,
  first BYTEA NOT NULL,
  body BYTEA NOT NULL,
  PRIMARY KEY (run, first)
);
ALTER TABLE resource_place ALTER body SET STORAGE EXTERNAL; -- nothing in it repeats

-- +goose Down
DROP TABLE resource_place;
DROP TABLE resource_run;
