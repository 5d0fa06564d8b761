package store

import (
	"context"
	"database/sql"
	"io/fs"

	"github.com/pressly/goose/v3"

	"weir.example/weir/adapter"
)

// Bring sets up an empty database, and with migrate brings an older one up to
// date. It refuses a newer schema, and an older one without migrate. It gives
// the version of the schema.
func Bring(ctx context.Context, db *sql.DB, dialect goose.Dialect, files fs.FS, migrate bool, more ...goose.ProviderOption) (int64, error) {
	p, err := provider(db, dialect, files, more...)
	if err != nil {
		return 0, err
	}
	have, need, err := p.GetVersions(ctx)
	if err != nil {
		return 0, err
	}
	switch {
	case have > need:
		return 0, &adapter.SchemaNewer{What: "store", Have: have, Know: need}
	case have == need:
		return have, nil
	case have > 0 && !migrate:
		return 0, &adapter.SchemaOlder{Have: have, Need: need}
	}
	_, err = p.Up(ctx)
	return need, err
}

// Unused says that a store was set up, or begun to be, and never written to:
// every effect leaves an audit row. What of its set-up was cut off is done then
// without being asked for.
func Unused(ctx context.Context, db *sql.DB) bool {
	var n int64
	return db.QueryRowContext(ctx, "SELECT COUNT(*) FROM (SELECT 1 AS one FROM audit LIMIT 1) a").Scan(&n) == nil && n == 0
}

func provider(db *sql.DB, dialect goose.Dialect, files fs.FS, more ...goose.ProviderOption) (*goose.Provider, error) {
	return goose.NewProvider(dialect, db, files, append([]goose.ProviderOption{goose.WithDisableGlobalRegistry(true)}, more...)...)
}

// Status is how far the schema of a store is.
type Status struct {
	Have    int64 // 0: nothing is there yet
	Need    int64 // what this program works with
	Pending []int64
	Queue   int // steps that the queue's own tables need
}

// Due counts the steps that have to be done.
func (s Status) Due() int { return len(s.Pending) + s.Queue }

// Look reads how far the schema is and changes nothing. Made says that the
// database holds a store of ours.
func Look(ctx context.Context, db *sql.DB, dialect goose.Dialect, files fs.FS, made bool, more ...goose.ProviderOption) (Status, error) {
	p, err := provider(db, dialect, files, more...)
	if err != nil {
		return Status{}, err
	}
	var out Status
	if made {
		if out.Have, err = p.GetDBVersion(ctx); err != nil {
			return Status{}, err
		}
	}
	for _, s := range p.ListSources() {
		out.Need = s.Version
		if s.Version > out.Have {
			out.Pending = append(out.Pending, s.Version)
		}
	}
	return out, nil
}
