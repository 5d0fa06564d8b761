package postgres

import (
	"bytes"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/storetest"
)

func do(t *testing.T, address, text string) {
	c, err := pgx.Connect(t.Context(), address)
	require.NoError(t, err)
	_, err = c.Exec(t.Context(), text)
	require.NoError(t, err)
	require.NoError(t, c.Close(t.Context()))
}

func TestWhatIsNoStoreIsRefused(t *testing.T) {
	h := harness(t)
	address := h.Fresh(t)
	do(t, address, "CREATE TABLE a (b INT)")
	var foreign *adapter.Foreign
	_, err := Open(t.Context(), address, store.Options{Migrate: true})
	assert.ErrorAs(t, err, &foreign)
	var invalid *adapter.Invalid
	_, err = Open(t.Context(), "postgres://user:secret@[", store.Options{})
	require.ErrorAs(t, err, &invalid)
	assert.NotContains(t, err.Error(), "secret")
	var off *adapter.Unavailable
	_, err = Open(t.Context(), "host=/nowhere user=weir password=secret dbname=x", store.Options{})
	require.ErrorAs(t, err, &off)
	assert.NotContains(t, err.Error(), "secret")

	address = h.Fresh(t)
	s, err := Open(t.Context(), address, store.Options{})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	do(t, address, "INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, true)")
	var newer *adapter.SchemaNewer
	_, err = Open(t.Context(), address, store.Options{Migrate: true})
	require.ErrorAs(t, err, &newer)
	assert.Equal(t, int64(99), newer.Have)
}

// A server that could lose an acknowledged order is refused.
func TestUnsafeServersAreRefused(t *testing.T) {
	h := harness(t)
	address := h.Fresh(t)
	for _, setting := range []string{"fsync", "full_page_writes"} {
		require.NoError(t, server.Do("ALTER SYSTEM SET "+setting+" = off"))
		require.NoError(t, server.Do("SELECT pg_reload_conf()"))
		var unsafe *adapter.Unsafe
		assert.Eventually(t, func() bool {
			s, err := Open(t.Context(), address, store.Options{})
			if err == nil {
				require.NoError(t, s.Close())
			}
			return errors.As(err, &unsafe) && unsafe.Setting == setting
		}, 10*time.Second, 50*time.Millisecond, setting)
		require.NoError(t, server.Do("ALTER SYSTEM RESET "+setting))
		require.NoError(t, server.Do("SELECT pg_reload_conf()"))
	}
	assert.Eventually(t, func() bool {
		s, err := Open(t.Context(), address, store.Options{})
		return err == nil && s.Close() == nil
	}, 10*time.Second, 50*time.Millisecond)
	// What a database or a role has set does not weaken a commit of ours.
	do(t, address, "ALTER ROLE weir SET synchronous_commit = off")
	defer do(t, address, "ALTER ROLE weir RESET synchronous_commit")
	s, err := Open(t.Context(), address, store.Options{})
	require.NoError(t, err)
	require.NoError(t, s.Close())
}

func TestTheSchemaIsTheOneThatIsCopied(t *testing.T) {
	h := harness(t)
	address := h.Fresh(t)
	// Many programs may set up one database at the same moment.
	var wait sync.WaitGroup
	for range 8 {
		wait.Go(func() {
			s, err := Open(t.Context(), address+" pool_max_conns=2", store.Options{})
			if assert.NoError(t, err) {
				assert.NoError(t, s.Close())
			}
		})
	}
	wait.Wait()
	c, err := pgx.Connect(t.Context(), address)
	require.NoError(t, err)
	defer func() { require.NoError(t, c.Close(t.Context())) }()
	rows, err := c.Query(t.Context(), `SELECT table_name, column_name, COALESCE(collation_name, ''), data_type FROM information_schema.columns
		WHERE table_schema = 'public' AND table_name <> 'goose_db_version' AND table_name NOT LIKE 'river_%' ORDER BY table_name, ordinal_position`)
	require.NoError(t, err)
	got := map[string][]string{}
	for rows.Next() {
		var table, column, collation, kind string
		require.NoError(t, rows.Scan(&table, &column, &collation, &kind))
		got[table] = append(got[table], column)
		if kind == "text" {
			assert.Equal(t, "C", collation, "%s.%s is not compared byte for byte", table, column)
		}
	}
	require.NoError(t, rows.Err())
	assert.Equal(t, store.Columns(), got)
}

// What is refused leaves no value in the server's log.
func TestTheServersLogIsSilent(t *testing.T) {
	s := harness(t).New(t, store.Options{})
	const canary = "Zyxwvut"
	e := storetest.Order(1, time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC))
	e.Orders[0].Key, e.Worksheets[0].Key = canary, canary
	e.Resources[0].Identifiers[0].Value = canary
	require.NoError(t, s.Commit(t.Context(), e))
	require.Error(t, s.Commit(t.Context(), e))
	e.Resources = nil
	require.Error(t, s.Commit(t.Context(), e))
	e.Resources, e.Orders, e.Received = nil, nil, nil
	require.Error(t, s.Commit(t.Context(), e))
	e.Worksheets[0].Number, e.Worksheets[0].ID = 2, "of no version"
	require.Error(t, s.Commit(t.Context(), e))
	var copied bytes.Buffer
	require.NoError(t, s.Export(t.Context(), &copied))
	broken := bytes.Replace(copied.Bytes(), []byte(`"`+canary+`",1,`), []byte(`"`+canary+`",0,`), 1)
	require.NotEqual(t, copied.Bytes(), broken)
	require.Error(t, harness(t).New(t, store.Options{}).Import(t.Context(), bytes.NewReader(broken)))
	log, err := server.Log()
	require.NoError(t, err)
	for line := range strings.Lines(log) {
		assert.NotContains(t, line, canary)
	}
}
