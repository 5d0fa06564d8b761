package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/storetest"
)

var clock = time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC)

func raw(t *testing.T, path string, statements ...string) {
	db, err := sql.Open("sqlite3", source(path))
	require.NoError(t, err)
	for _, s := range statements {
		_, err := db.ExecContext(t.Context(), s)
		require.NoError(t, err)
	}
	require.NoError(t, db.Close())
}

func TestWhatIsNoStoreIsRefused(t *testing.T) {
	folder := t.TempDir()
	var foreign *adapter.Foreign
	text := filepath.Join(folder, "text")
	require.NoError(t, os.WriteFile(text, bytes.Repeat([]byte("no database "), 1000), 0o600))
	_, err := Open(t.Context(), text, store.Options{})
	assert.ErrorAs(t, err, &foreign)
	other := filepath.Join(folder, "other")
	raw(t, other, "CREATE TABLE a (b)")
	_, err = Open(t.Context(), other, store.Options{Migrate: true})
	assert.ErrorAs(t, err, &foreign)
	marked := filepath.Join(folder, "marked")
	raw(t, marked, "PRAGMA application_id = 7")
	_, err = Open(t.Context(), marked, store.Options{Migrate: true})
	assert.ErrorAs(t, err, &foreign)
	_, err = Open(t.Context(), filepath.Join(folder, "none", "weir.db"), store.Options{})
	assert.ErrorIs(t, err, os.ErrNotExist)

	newer := filepath.Join(folder, "newer")
	s, err := Open(t.Context(), newer, store.Options{})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	raw(t, newer, "INSERT INTO goose_db_version (version_id, is_applied) VALUES (99, 1)")
	before, err := os.ReadFile(newer)
	require.NoError(t, err)
	var too *adapter.SchemaNewer
	_, err = Open(t.Context(), newer, store.Options{Migrate: true})
	require.ErrorAs(t, err, &too)
	assert.Equal(t, int64(99), too.Have)
	after, err := os.ReadFile(newer)
	require.NoError(t, err)
	assert.Equal(t, before, after, "a store of a newer program is left as it is")
}

func TestTheSchemaIsTheOneThatIsCopied(t *testing.T) {
	path := filepath.Join(t.TempDir(), "weir.db")
	s, err := Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	rows, err := s.b.reader.QueryContext(t.Context(), `SELECT m.name, c.name, l.strict FROM pragma_table_list l JOIN sqlite_schema m ON m.name = l.name
		JOIN pragma_table_info(m.name) c WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite_%' AND m.name <> 'goose_db_version' AND m.name NOT LIKE 'river_%' ORDER BY m.name, c.cid`)
	require.NoError(t, err)
	got := map[string][]string{}
	for rows.Next() {
		var table, column string
		var strict bool
		require.NoError(t, rows.Scan(&table, &column, &strict))
		assert.True(t, strict, table)
		got[table] = append(got[table], column)
	}
	require.NoError(t, rows.Err())
	assert.Equal(t, store.Columns(), got)
	for _, name := range []string{path, path + "-wal", path + "-shm"} {
		info, err := os.Stat(name)
		require.NoError(t, err)
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm(), "%s is read by its owner only", filepath.Base(name))
	}
}

// The settings on which durability rests, as they are on the connection that writes.
func TestSettings(t *testing.T) {
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "weir.db"), store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	for name, want := range map[string]string{"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "secure_delete": "1", "busy_timeout": "10000"} {
		var got string
		require.NoError(t, s.b.conn.QueryRowContext(t.Context(), "PRAGMA "+name).Scan(&got))
		assert.Equal(t, want, got, name)
	}
	_, err = s.b.reader.ExecContext(t.Context(), "DELETE FROM audit")
	assert.Error(t, err, "readers cannot write")
}

// What shelves hold and what they are found by is compared.
func TestWhatDoesNotAgreeIsNoticed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "weir.db")
	s, err := Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	for n := range 3 {
		require.NoError(t, s.Commit(t.Context(), storetest.Order(n, clock)))
		require.NoError(t, s.Commit(t.Context(), storetest.Again(n, 2, clock.Add(time.Hour))))
	}
	h, err := s.Check(t.Context())
	require.NoError(t, err)
	require.Empty(t, h.Problems)
	require.NoError(t, s.Close())
	raw(t, path, "UPDATE resource_place SET body = substr(body, 14) WHERE run = (SELECT MIN(n) FROM resource_run)", "DELETE FROM search_value WHERE text = 'requested' AND shelf = 1",
		"INSERT INTO search_value SELECT param, text, low, high, 99, system, bits FROM search_value WHERE text = 'requested' AND shelf = 3",
		"UPDATE identifier SET slot = 77 WHERE type = 'Patient' AND shelf = 5", "UPDATE shelf_past SET body = x'00' WHERE shelf = 3")
	s, err = Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	h, err = s.Check(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []string{"1 search values of nothing", "1 identifiers of nothing", "30 resources on shelves and 29 places of resources", "1 earlier versions that cannot be read"}, h.Problems)
	raw(t, path, "DELETE FROM search_value WHERE shelf = 99")
	h, err = s.Check(t.Context())
	require.NoError(t, err)
	assert.Contains(t, strings.Join(h.Problems, "; "), "search values on shelves and")
	for what, change := range map[string]string{
		"places of resources that lead elsewhere":                                     "UPDATE resource_place SET body = CAST(substr(body, 1, 12) || x'63' || substr(body, 14) AS BLOB)",
		"3 places of resources that are not in order":                                 "UPDATE resource_place SET body = CAST(substr(body, 14) || substr(body, 1, 13) AS BLOB)",
		"3 places of no run":                                                          "DELETE FROM resource_run",
		"30 resources on shelves and 0 places of resources":                           "DELETE FROM resource_place",
		"1025 runs of places wait to be merged: merging fails, and reads become slow": "WITH RECURSIVE many(n) AS (SELECT 1000 UNION ALL SELECT n + 1 FROM many WHERE n < 2024) INSERT INTO resource_run(n, tier, places) SELECT n, 9, 1 FROM many",
	} {
		path := filepath.Join(t.TempDir(), "weir.db")
		s, err := Open(t.Context(), path, store.Options{})
		require.NoError(t, err)
		for n := range 3 {
			require.NoError(t, s.Commit(t.Context(), storetest.Order(n, clock)))
		}
		raw(t, path, change)
		h, err := s.Check(t.Context())
		require.NoError(t, err)
		assert.Equal(t, []string{what}, h.Problems)
		require.NoError(t, s.Close())
	}
}

func TestDamageIsNoticed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "weir.db")
	s, err := Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	for n := range 3 {
		require.NoError(t, s.Commit(t.Context(), storetest.Order(n, clock)))
	}
	require.NoError(t, s.Close())
	raw(t, path, "UPDATE document SET body = (SELECT body FROM document WHERE id = 'document-000001') WHERE id = 'document-000000'",
		"UPDATE document SET body = x'00' WHERE id = 'document-000002'", "UPDATE worksheet SET body = x'00' WHERE id = 'sheet-000001'",
		"UPDATE order_head SET number = 2 WHERE patient = 'patient-000001'", "UPDATE shelf SET body = x'00' WHERE patient = 'patient-000002'")
	s, err = Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	var damaged *adapter.Damaged
	for _, name := range []string{"document-000000", "document-000002"} {
		_, err = s.Document(t.Context(), name)
		assert.ErrorAs(t, err, &damaged, name)
	}
	_, err = s.Document(t.Context(), "document-000001")
	assert.NoError(t, err)
	_, err = s.Worksheets(t.Context(), "urn:placer|order-000001", 1)
	assert.ErrorAs(t, err, &damaged)
	h, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []string{"1 orders whose line is not of their newest version", "1 orders with a gap in their versions", "1 shelves that cannot be opened",
		"2 documents whose bytes do not have their hash", "1 bodies in worksheet that cannot be unpacked"}, h.Problems)
	_, err = s.Get(t.Context(), "Task", "task-000002-1")
	assert.ErrorAs(t, err, &damaged)
}

// Erased bytes are not in the file any more.
func TestErasedBytesAreGone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "weir.db")
	s, err := Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	e := storetest.Order(1, clock)
	canary := []byte("Zyxwvut-canary")
	noise := make([]byte, 4000) // does not compress, so that the canary is stored as it is
	rand.NewChaCha8([32]byte{1}).Read(noise)
	e.Resources[0].JSON = slices.Concat(noise, canary, noise)
	e.Resources[0].Identifiers[0].Value = string(canary)
	e.Resources[0].Values[0].Text = string(canary)
	e.Orders[0].Drug = string(canary)
	e.Audit[0].Private = canary
	require.NoError(t, s.Commit(t.Context(), e))
	count := func() (n int) {
		for _, name := range []string{path, path + "-wal"} {
			data, err := os.ReadFile(name)
			require.NoError(t, err)
			n += bytes.Count(data, canary)
		}
		return n
	}
	require.GreaterOrEqual(t, count(), 5)
	body, err := s.Get(t.Context(), e.Resources[0].Type, e.Resources[0].ID)
	require.NoError(t, err)
	require.Contains(t, string(body.JSON), string(canary))
	patient := e.Cases[0].Patient
	_, err = s.Erase(t.Context(), adapter.Erasure{Patient: patient, Before: clock.Add(time.Hour),
		Audit: adapter.AuditRow{ID: "erased", At: clock, Action: "D", Outcome: "0", Agent: "retention", Patient: patient}})
	require.NoError(t, err)
	assert.Zero(t, count())
	require.NoError(t, s.Close())
}

// Backups are taken while others write; each is a whole store.
func TestBackup(t *testing.T) {
	folder := t.TempDir()
	s, err := Open(t.Context(), filepath.Join(folder, "weir.db"), store.Options{})
	require.NoError(t, err)
	var written atomic.Int64
	stop, done := make(chan struct{}), make(chan error, 1)
	go func() {
		for n := 0; ; n++ {
			select {
			case <-stop:
				done <- nil
				return
			default:
			}
			if err := s.Commit(context.Background(), storetest.Order(n, clock)); err != nil {
				done <- err
				return
			}
			written.Add(1)
		}
	}()
	const backups = 5
	for n := range backups {
		time.Sleep(50 * time.Millisecond)
		before := written.Load()
		file, restored := filepath.Join(folder, "backup"+string(rune('a'+n))), filepath.Join(folder, "restored"+string(rune('a'+n)))
		require.NoError(t, s.Backup(t.Context(), file))
		after := written.Load()
		var invalid *adapter.Invalid
		require.ErrorAs(t, s.Backup(t.Context(), file), &invalid, "a backup never replaces a file")
		_, err := Restore(t.Context(), file, restored)
		require.NoError(t, err)
		_, err = Restore(t.Context(), file, restored)
		require.ErrorAs(t, err, &invalid, "a restore never replaces a store")
		info, err := os.Stat(file)
		require.NoError(t, err)
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
		copied, err := Open(t.Context(), restored, store.Options{})
		require.NoError(t, err)
		h, err := copied.Check(t.Context())
		require.NoError(t, err)
		assert.Empty(t, h.Problems)
		held := h.Rows["audit"]
		assert.GreaterOrEqual(t, held, before, "what was acknowledged before is in it")
		assert.LessOrEqual(t, held, after+1)
		for n := range held {
			got, err := copied.Document(t.Context(), storetest.Order(int(n), clock).Received[0].ID)
			require.NoError(t, err)
			require.Equal(t, storetest.Order(int(n), clock).Received[0], got)
		}
		assert.Equal(t, 10*held, h.Rows["resource"])
		require.NoError(t, copied.Close())
	}
	close(stop)
	require.NoError(t, <-done)
	// At rest a backup holds the same, byte for byte, as a copy tells.
	var here, there bytes.Buffer
	require.NoError(t, s.Export(t.Context(), &here))
	require.NoError(t, s.Backup(t.Context(), filepath.Join(folder, "last")))
	copied, err := Open(t.Context(), filepath.Join(folder, "last"), store.Options{})
	require.NoError(t, err)
	require.NoError(t, copied.Export(t.Context(), &there))
	assert.Equal(t, here.Bytes(), there.Bytes())
	require.NoError(t, copied.Close())
	require.NoError(t, s.Close())
	var off *adapter.Unavailable
	require.ErrorAs(t, s.Commit(t.Context(), storetest.Order(-1, clock)), &off, "closed")
	_, err = Restore(t.Context(), filepath.Join(folder, "none"), filepath.Join(folder, "new"))
	require.Error(t, err)
	left, err := filepath.Glob(filepath.Join(folder, "*.part*"))
	require.NoError(t, err)
	assert.Empty(t, left)
	t.Logf("%d backups while %d orders were written, restored and compared", backups, written.Load())
}

// Two programs on one file wait for each other and lose nothing.
func TestTwoPrograms(t *testing.T) {
	path := filepath.Join(t.TempDir(), "weir.db")
	var all [2]*Store
	for i := range all {
		s, err := Open(t.Context(), path, store.Options{})
		require.NoError(t, err)
		defer func() { require.NoError(t, s.Close()) }()
		all[i] = s
	}
	errs := make(chan error, 2)
	for i, s := range all {
		go func() {
			for n := range 100 {
				if err := s.Commit(context.Background(), storetest.Order(2*n+i, clock)); err != nil {
					errs <- err
					return
				}
			}
			errs <- nil
		}()
	}
	require.NoError(t, <-errs)
	require.NoError(t, <-errs)
	h, err := all[0].Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, h.Problems)
	assert.Equal(t, int64(200), h.Rows["order_head"])
}

// The number of a shelf that was erased is given to no other: who still has
// the old one open would take it for the new.
func TestNumbersAreGivenOnce(t *testing.T) {
	ctx := t.Context()
	s, err := Open(ctx, filepath.Join(t.TempDir(), "weir.db"), store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	last := func() (n int64) {
		require.NoError(t, s.b.reader.QueryRowContext(ctx, "SELECT COALESCE(MAX(n), 0) FROM shelf").Scan(&n))
		return n
	}
	require.NoError(t, s.Commit(ctx, storetest.Order(1, clock)))
	before := last()
	patient := storetest.Order(1, clock).Cases[0].Patient
	row := storetest.Order(9, clock).Audit[0]
	row.Patient, row.Private = patient, nil
	_, err = s.Erase(ctx, adapter.Erasure{Patient: patient, Before: clock.Add(time.Hour), Audit: row})
	require.NoError(t, err)
	require.Zero(t, last())
	require.NoError(t, s.Commit(ctx, storetest.Order(2, clock)))
	assert.Greater(t, last(), before)
}
