-- +goose Up
-- own: the id of the resource, as a URI, is an identifier of it. Such an
-- identifier is not kept a second time.
ALTER TABLE resource ADD COLUMN own INT NOT NULL DEFAULT 0;

-- What is kept of each patient of the placer's nightly state. watch is when
-- the clock alone may change what was found, 0 for never; night is the run
-- that saw the patient last; at is the version of the case that was compared.

CREATE TABLE feed_line (
  key TEXT NOT NULL PRIMARY KEY,
  patient TEXT NOT NULL,
  sum BLOB NOT NULL,
  basis BLOB NOT NULL,
  watch INT NOT NULL,
  at INT NOT NULL,
  night TEXT NOT NULL,
  orders INT NOT NULL,
  report BLOB NOT NULL
) STRICT;
CREATE INDEX feed_line_patient ON feed_line (patient, night);

-- +goose Down
DROP TABLE feed_line;
ALTER TABLE resource DROP COLUMN own;
