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
	options := append([]goose.ProviderOption{goose.WithDisableGlobalRegistry(true)}, more...)
	p, err := goose.NewProvider(dialect, db, files, options...)
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
