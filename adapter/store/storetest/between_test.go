package storetest_test

import (
	"context"
	"errors"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/postgres"
	"weir.example/weir/adapter/store/sqlite"
	"weir.example/weir/adapter/store/storetest"
)

// A pharmacy that outgrows its file takes its record along, and back.
func TestBetweenStores(t *testing.T) {
	server, err := storetest.StartServer()
	if errors.Is(err, storetest.ErrNoServer) && !storetest.Required() {
		t.Skip(err)
	}
	require.NoError(t, err)
	defer func() { require.NoError(t, server.Close()) }()
	lite := storetest.Harness{
		Fresh: func(tb testing.TB) string { return filepath.Join(tb.TempDir(), "weir.db") },
		Open: func(ctx context.Context, path string, o store.Options) (storetest.Opened, error) {
			return sqlite.Open(ctx, path, o)
		},
	}
	post := storetest.Harness{Fresh: server.Fresh, Open: func(ctx context.Context, address string, o store.Options) (storetest.Opened, error) {
		return postgres.Open(ctx, address, o)
	}}
	t.Run("There", func(t *testing.T) { storetest.Between(t, lite, post) })
	t.Run("Back", func(t *testing.T) { storetest.Between(t, post, lite) })
}
