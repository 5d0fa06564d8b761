package postgres

import (
	"context"
	"errors"
	"fmt"
	"os"
	"testing"

	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/storetest"
)

func open(ctx context.Context, address string, o store.Options) (storetest.Opened, error) {
	s, err := Open(ctx, address, o)
	if err != nil {
		return nil, err
	}
	return s, nil
}

var server *storetest.Server

func TestMain(m *testing.M) { os.Exit(run(m)) }

func run(m *testing.M) int {
	if storetest.Child() {
		return storetest.Main(m, open)
	}
	var err error
	switch server, err = storetest.StartServer(); {
	case errors.Is(err, storetest.ErrNoServer) && !storetest.Required():
		fmt.Fprintln(os.Stderr, err, "- its tests are skipped")
	case err != nil:
		fmt.Fprintln(os.Stderr, err)
		return 1
	default:
		defer func() { _ = server.Close() }()
	}
	return storetest.Main(m, open)
}

func harness(tb testing.TB) storetest.Harness {
	if server == nil {
		tb.Skip("no PostgreSQL")
	}
	return storetest.Harness{Fresh: server.Fresh, Open: open, Stop: server.Stop, Settle: server.Settle}
}

func TestSuite(t *testing.T) { storetest.Run(t, harness(t)) }
