package store

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	_ "github.com/ncruces/go-sqlite3/driver"
	"github.com/pressly/goose/v3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
)

// The migrations of all databases have the same numbers from 1 on without a
// gap, the same names, and a way back.
func TestMigrationsHaveNoGaps(t *testing.T) {
	names := map[string][]string{}
	for _, database := range []string{"sqlite", "postgres"} {
		files, err := fs.Glob(os.DirFS(database), "migrations/*")
		require.NoError(t, err)
		require.NotEmpty(t, files)
		for i, f := range files {
			number := i + 1
			if number >= formerStep { // which a program does
				number++
			}
			assert.True(t, strings.HasPrefix(f, fmt.Sprintf("migrations/%05d_", number)) && strings.HasSuffix(f, ".sql"), f)
			text, err := os.ReadFile(database + "/" + f)
			require.NoError(t, err)
			assert.Contains(t, string(text), "-- +goose Up\n")
			assert.Contains(t, string(text), "-- +goose Down\n")
		}
		names[database] = files
	}
	assert.Equal(t, names["sqlite"], names["postgres"])
}

func TestBring(t *testing.T) {
	ctx := t.Context()
	step := func(n int) *fstest.MapFile {
		return &fstest.MapFile{Data: fmt.Appendf(nil, "-- +goose Up\nCREATE TABLE t%d (a INT) STRICT;\n-- +goose Down\nDROP TABLE t%d;\n", n, n)}
	}
	one := fstest.MapFS{"00001_a.sql": step(1)}
	two := fstest.MapFS{"00001_a.sql": step(1), "00002_b.sql": step(2)}
	db, err := sql.Open("sqlite3", "file:"+t.TempDir()+"/a.db")
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	bring := func(files fs.FS, migrate bool) (int64, error) {
		return Bring(context.WithoutCancel(ctx), db, goose.DialectSQLite3, files, migrate)
	}
	got, err := bring(one, false)
	require.NoError(t, err, "an empty database is set up")
	assert.Equal(t, int64(1), got)
	var older *adapter.SchemaOlder
	_, err = bring(two, false)
	require.ErrorAs(t, err, &older)
	assert.Equal(t, adapter.SchemaOlder{Have: 1, Need: 2}, *older)
	assert.Contains(t, err.Error(), "weir migrate")
	got, err = bring(two, true)
	require.NoError(t, err)
	assert.Equal(t, int64(2), got)
	for _, migrate := range []bool{false, true} {
		var newer *adapter.SchemaNewer
		_, err = bring(one, migrate)
		require.ErrorAs(t, err, &newer)
		assert.Equal(t, adapter.SchemaNewer{What: "store", Have: 2, Know: 1}, *newer)
		assert.Contains(t, err.Error(), "newer program")
	}
	bad := fstest.MapFS{"00001_a.sql": step(1), "00002_b.sql": step(2), "00003_c.sql": &fstest.MapFile{Data: []byte("-- +goose Up\nCREATE TABLE t3 (a INT) STRICT;\nNONSENSE;\n")}}
	_, err = bring(bad, true)
	require.Error(t, err)
	var n int
	require.NoError(t, db.QueryRowContext(ctx, "SELECT COUNT(*) FROM sqlite_schema WHERE name = 't3'").Scan(&n))
	assert.Zero(t, n, "a step that fails leaves nothing")
	got, err = bring(two, false)
	require.NoError(t, err)
	assert.Equal(t, int64(2), got)
}

func TestBeyond(t *testing.T) {
	for prefix, want := range map[string]string{"": "", "a": "b", "az": "a{", "\ud7ff": "\ue000", "\U0010FFFF": "", "a\U0010FFFF": "b", "é": "ê"} {
		assert.Equal(t, want, beyond(prefix), "%q", prefix)
	}
}
