-- +goose Up
-- place is where a patient stands in the order in which the night reads a
-- feed, so that many are looked up by one range; 0 for what is no patient who
-- could be passed over.
ALTER TABLE feed_line ADD COLUMN place INT NOT NULL DEFAULT 0;
CREATE INDEX feed_line_place ON feed_line (place) WHERE place > 0;

-- The version of a case without its page.
CREATE INDEX patient_case_version ON patient_case (patient, version);

-- What the night remembers of the lines of its last feed: sums, no text. It
-- can be made again from any feed.
CREATE TABLE feed_memory (
  kind TEXT NOT NULL,
  number INT NOT NULL,
  body BLOB NOT NULL,
  PRIMARY KEY (kind, number)
) STRICT;

-- +goose Down
DROP TABLE feed_memory;
DROP INDEX patient_case_version;
DROP INDEX feed_line_place;
ALTER TABLE feed_line DROP COLUMN place;
