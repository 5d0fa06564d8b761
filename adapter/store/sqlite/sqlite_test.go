package sqlite

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/storetest"
)

func open(ctx context.Context, path string, o store.Options) (storetest.Opened, error) {
	s, err := Open(ctx, path, o)
	if err != nil {
		return nil, err
	}
	return s, nil
}

// harness puts each store in a folder whose name has what a path may have.
var harness = storetest.Harness{
	Fresh: func(tb testing.TB) string {
		folder := filepath.Join(tb.TempDir(), "a b?c#d%41é")
		if err := os.Mkdir(folder, 0o700); err != nil {
			tb.Fatal(err)
		}
		return filepath.Join(folder, "weir.db")
	},
	Open: open,
}

func TestMain(m *testing.M) { os.Exit(storetest.Main(m, open)) }

func TestSuite(t *testing.T) { storetest.Run(t, harness) }
