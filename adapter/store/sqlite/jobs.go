package sqlite

import (
	"database/sql"

	"github.com/ncruces/go-sqlite3/driver"
)

// Jobs opens a connection of its own for the queue, whose tables are in the
// same file. Whoever asked for it closes it.
func (s *Store) Jobs() (*sql.DB, error) {
	db, err := driver.Open(source(s.b.path, "foreign_keys(1)", "synchronous(full)", "secure_delete(1)", "trusted_schema(0)", seldom))
	if err != nil {
		return nil, fault(err)
	}
	db.SetMaxOpenConns(1)
	return db, nil
}
