package sqlite

import (
	"crypto/sha256"
	"database/sql"
	"fmt"
	"io/fs"
	"log/slog"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/pressly/goose/v3"
	"github.com/riverqueue/river/riverdriver/riversqlite"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/storetest"
)

// A store of schema 2, in which a resource was a row of its own, is read as
// it was after it is migrated.
func TestResourcesOfAnOlderStore(t *testing.T) {
	ctx, path := t.Context(), filepath.Join(t.TempDir(), "weir.db")
	old := fstest.MapFS{}
	for _, name := range []string{"00001_record.sql", "00002_night.sql"} {
		data, err := fs.ReadFile(steps, name)
		require.NoError(t, err)
		old[name] = &fstest.MapFile{Data: data}
	}
	db, err := sql.Open("sqlite3", source(path))
	require.NoError(t, err)
	_, err = store.Bring(ctx, db, goose.DialectSQLite3, old, false)
	require.NoError(t, err)
	do := func(text string, args ...any) {
		_, err := db.ExecContext(ctx, text, args...)
		require.NoError(t, err)
	}
	for n, patient := range []string{"", "", "p1", "p1", "p1", "p2"} {
		id := fmt.Sprint("r", n)
		do("INSERT INTO resource VALUES ('Task', ?, ?, 1000, ?, ?, ?)", id, n+1, 1000+n, patient, n%2)
		for v := range n + 1 {
			do("INSERT INTO resource_version VALUES ('Task', ?, ?, ?, 'd', ?)", id, v+1, 1000+v, []byte(fmt.Sprintf(`{"id":%q,"v":%d}`, id, v+1)))
		}
		do("INSERT INTO identifier VALUES ('Task', ?, 'urn:s', ?, ?)", id, id, n%2)
		do("INSERT INTO search_value VALUES ('Task', 'status', 'requested', 0, 0, 'urn:t', ?)", id)
		do("INSERT INTO search_value VALUES ('Task', 'focus', 'Task/r2', 0, 0, '', ?)", id)
		do("INSERT INTO task VALUES (?, 'k', ?, 'c', 'r', 'requested', 5, 6)", id, patient)
	}
	do("INSERT INTO order_head VALUES ('k', 1, 'v', 'p1', 'x', 'd', 'active', 'hold', 'intake', 1, 0, 1)")
	do("INSERT INTO order_version VALUES ('k', 1, 'v', 0, 'd', 1, 1)")
	do("INSERT INTO audit VALUES ('a', 1, 'C', '0', 'x', '', '', '', '', x'')")
	require.NoError(t, db.Close())

	var older *adapter.SchemaOlder
	_, err = Open(ctx, path, store.Options{})
	require.ErrorAs(t, err, &older)
	s, err := Open(ctx, path, store.Options{Migrate: true})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	for n := range 6 {
		id := fmt.Sprint("r", n)
		list, err := s.History(ctx, "Task", id, adapter.Page{Limit: 100})
		require.NoError(t, err)
		require.Len(t, list.Resources, n+1)
		for i, r := range list.Resources {
			assert.Equal(t, int64(n+1-i), r.Version)
			assert.Equal(t, fmt.Sprintf(`{"id":%q,"v":%d}`, id, n+1-i), string(r.JSON))
			assert.Equal(t, int64(1000), r.Created.UnixMicro())
			assert.Equal(t, int64(1000+n-i), r.Updated.UnixMicro())
			assert.Equal(t, "d", r.Source)
		}
		found, err := s.ByIdentifier(ctx, "Task", adapter.Identity{System: "urn:s", Value: id})
		require.NoError(t, err)
		assert.Equal(t, list.Resources[:1], found)
		found, err = s.ByIdentifier(ctx, "Task", adapter.Identity{System: "urn:ietf:rfc:3986", Value: "urn:uuid:" + id})
		require.NoError(t, err)
		assert.Len(t, found, n%2)
	}
	for name, text := range map[string]string{"status": "requested", "focus": "Task/r2"} {
		n, err := s.Count(ctx, adapter.Query{Type: "Task", All: []adapter.Criterion{{Name: name, Any: []adapter.Match{{Op: adapter.OpEqual, Text: text}}}}})
		require.NoError(t, err)
		assert.Equal(t, int64(6), n, name)
	}
	db, err = sql.Open("sqlite3", source(path))
	require.NoError(t, err)
	var left int
	require.NoError(t, db.QueryRowContext(ctx, "SELECT COUNT(*) FROM sqlite_schema WHERE name IN ('task', 'former_task', 'resource')").Scan(&left))
	assert.Zero(t, left, "what their rows said, the resources and the runs of places say")
	require.NoError(t, db.Close())
	h, err := s.Check(ctx)
	require.NoError(t, err)
	assert.Empty(t, h.Problems)
	assert.Equal(t, int64(4), h.Rows["shelf"], "one of each who is nobody's, one of each patient")
}

// Places that were rows of their own, as they were up to schema 6, become one
// run.
func TestPlacesOfAnOlderStore(t *testing.T) {
	ctx, path := t.Context(), filepath.Join(t.TempDir(), "weir.db")
	s, err := Open(ctx, path, store.Options{})
	require.NoError(t, err)
	const orders = 420 // more places than are moved at once
	shelves := map[string]int{}
	for n := range orders {
		e := storetest.Order(n, clock)
		require.NoError(t, s.Commit(ctx, e))
		for _, r := range e.Resources {
			shelves[r.Type+"/"+r.ID] = n
		}
	}
	text, err := s.Check(ctx)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	raw(t, path, "DROP TABLE resource_run", "DROP TABLE resource_place", "CREATE TABLE resource (place BLOB NOT NULL PRIMARY KEY, shelf INT NOT NULL) STRICT, WITHOUT ROWID",
		"DELETE FROM goose_db_version WHERE version_id > 6")
	db, err := sql.Open("sqlite3", source(path))
	require.NoError(t, err)
	for name, n := range shelves {
		sum := sha256.Sum256([]byte(name))
		_, err := db.ExecContext(ctx, "INSERT INTO resource SELECT ?, n FROM shelf WHERE patient = ?", sum[:16], storetest.Order(n, clock).Orders[0].Patient)
		require.NoError(t, err)
	}
	require.NoError(t, db.Close())
	s, err = Open(ctx, path, store.Options{Migrate: true})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	again, err := s.Check(ctx)
	require.NoError(t, err)
	require.Empty(t, again.Problems)
	require.Equal(t, text.Rows, again.Rows)
	for name := range shelves {
		typ, id, _ := strings.Cut(name, "/")
		r, err := s.Get(ctx, typ, id)
		require.NoError(t, err)
		require.Equal(t, id, r.ID)
	}
	require.NoError(t, s.Commit(ctx, storetest.Order(orders, clock)))
	require.NoError(t, s.Commit(ctx, storetest.Again(0, 2, clock.Add(time.Hour))))
}

// However many transactions add resources, few runs are left to ask; those of
// many places stay as they are.
func TestRunsStayFew(t *testing.T) {
	ctx, path := t.Context(), filepath.Join(t.TempDir(), "weir.db")
	s, err := Open(ctx, path, store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	for n := range 40 {
		raw(t, path, fmt.Sprintf("INSERT INTO resource_run VALUES (%d, 0, 131072)", 1_000_000+n))
	}
	for n := range 1100 {
		id := fmt.Sprint(n)
		require.NoError(t, s.Commit(ctx, adapter.Effect{At: clock, Audit: []adapter.AuditRow{{ID: id, At: clock, Action: "C", Outcome: "0", Agent: "a"}},
			Resources: []adapter.Resource{{Type: "Task", ID: id, Version: 1, Updated: clock, Patient: "p" + id, JSON: []byte("{}")}}}))
	}
	count := func(what string) (n int) {
		db, err := sql.Open("sqlite3", source(path))
		require.NoError(t, err)
		require.NoError(t, db.QueryRowContext(ctx, "SELECT COUNT(*) FROM resource_run WHERE "+what).Scan(&n))
		require.NoError(t, db.Close())
		return n
	}
	assert.Equal(t, 40, count("places = 131072"), "they are large, and not merged")
	assert.Equal(t, 1, count("tier = 2 AND places = 1024"))
	assert.LessOrEqual(t, count("places < 131072"), 1+31+32+16)
	raw(t, path, "DELETE FROM resource_run WHERE places = 131072")
	h, err := s.Check(ctx)
	require.NoError(t, err)
	assert.Empty(t, h.Problems)
}

// Two resources whose ids have one hash are told apart by their shelves.
func TestPlacesOfOneHash(t *testing.T) {
	ctx, path := t.Context(), filepath.Join(t.TempDir(), "weir.db")
	s, err := Open(ctx, path, store.Options{})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	for n := range 3 {
		require.NoError(t, s.Commit(ctx, storetest.Order(n, clock)))
	}
	// As if the first place of the second order were that of two others, too.
	raw(t, path, "INSERT INTO resource_run VALUES (1000, 1, 60)", `INSERT INTO resource_place SELECT 1000, first, CAST(substr(body, 1, 12) || x'01' || substr(body, 1, 13) || substr(body, 1, 12) || x'63' AS BLOB)
		FROM resource_place WHERE run = 4`)
	e := storetest.Order(1, clock)
	found := 0
	for _, r := range e.Resources {
		now, err := s.Get(ctx, r.Type, r.ID)
		require.NoError(t, err)
		require.Equal(t, r.JSON, now.JSON)
		found++
	}
	require.Equal(t, 10, found)
	require.NoError(t, s.Commit(ctx, storetest.Again(1, 2, clock.Add(time.Hour))))
}

// A set-up may be cut off after any of its steps, and those of the queue. The
// next program finishes it, as long as nothing was ever written.
func TestASetUpThatWasCutOffIsFinished(t *testing.T) {
	ctx := t.Context()
	cut := func(version int64, queue int) string {
		path := filepath.Join(t.TempDir(), "weir.db")
		db, err := sql.Open("sqlite3", source(path))
		require.NoError(t, err)
		defer func() { require.NoError(t, db.Close()) }()
		p, err := goose.NewProvider(goose.DialectSQLite3, db, steps, goose.WithDisableGlobalRegistry(true), former)
		require.NoError(t, err)
		_, err = p.UpTo(ctx, version)
		require.NoError(t, err)
		if queue > 0 {
			m, err := rivermigrate.New(riversqlite.New(db), &rivermigrate.Config{Logger: slog.New(slog.DiscardHandler)})
			require.NoError(t, err)
			_, err = m.Migrate(ctx, rivermigrate.DirectionUp, &rivermigrate.MigrateOpts{TargetVersion: queue})
			require.NoError(t, err)
		}
		return path
	}
	for version := int64(1); version <= 8; version++ {
		for queue := range 7 {
			s, err := Open(ctx, cut(version, queue), store.Options{})
			require.NoError(t, err, "%d steps, %d steps of the queue", version, queue)
			require.Equal(t, int64(8), s.b.Schema())
			h, err := s.Check(ctx)
			require.NoError(t, err)
			assert.Empty(t, h.Problems)
			require.NoError(t, s.Close())
		}
	}
}
