package sqlite

import (
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/storetest"
)

// withStep adds a step to those there are, until the test ends.
func withStep(t *testing.T, name, sql string) {
	before := steps
	all := fstest.MapFS{name: &fstest.MapFile{Data: []byte("-- +goose Up\n" + sql)}}
	names, err := fs.Glob(before, "*.sql")
	require.NoError(t, err)
	for _, n := range names {
		data, err := fs.ReadFile(before, n)
		require.NoError(t, err)
		all[n] = &fstest.MapFile{Data: data}
	}
	steps = all
	t.Cleanup(func() { steps = before })
}

// Many programs may set up, and later migrate, one file at the same moment.
func TestManyOpenAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "weir.db")
	together := func(migrate bool) {
		var wait sync.WaitGroup
		for range 8 {
			wait.Go(func() {
				s, err := Open(t.Context(), path, store.Options{Migrate: migrate})
				if assert.NoError(t, err) {
					assert.NoError(t, s.Close())
				}
			})
		}
		wait.Wait()
	}
	together(false)
	now, err := Look(t.Context(), path)
	require.NoError(t, err)
	assert.Empty(t, now.Pending)
	assert.Equal(t, now.Have, now.Need)
	withStep(t, "99999_later.sql", "CREATE TABLE later (a INT) STRICT;\n")
	later, err := Look(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, store.Status{Have: now.Have, Need: 99999, Pending: []int64{99999}}, later)
	together(true)
	done, err := Look(t.Context(), path)
	require.NoError(t, err)
	assert.Equal(t, store.Status{Have: 99999, Need: 99999}, done)
	left, err := filepath.Glob(filepath.Join(filepath.Dir(path), "*.opening"))
	require.NoError(t, err)
	assert.Empty(t, left)
}

// A backup is made before a migration, so it must be made of an older schema,
// and be restored as it is.
func TestBackupOfAnOlderSchema(t *testing.T) {
	folder := t.TempDir()
	path, file, again := filepath.Join(folder, "weir.db"), filepath.Join(folder, "backup"), filepath.Join(folder, "again")
	s, err := Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	require.NoError(t, s.Commit(t.Context(), storetest.Order(1, clock)))
	require.NoError(t, s.Close())
	older, err := Look(t.Context(), path)
	require.NoError(t, err)
	withStep(t, "99999_later.sql", "CREATE TABLE later (a INT) STRICT;\n")
	done, err := BackUp(t.Context(), path, file)
	require.NoError(t, err)
	assert.Equal(t, older.Have, done.Have)
	assert.Nil(t, done.Health.Rows, "what was not counted is not given as counted")
	_, err = Restore(t.Context(), file, again)
	require.NoError(t, err)
	var old *adapter.SchemaOlder
	_, err = Open(t.Context(), again, store.Options{})
	require.ErrorAs(t, err, &old)
	s, err = Open(t.Context(), again, store.Options{Migrate: true})
	require.NoError(t, err)
	_, err = s.Order(t.Context(), storetest.Order(1, clock).Orders[0].Key)
	require.NoError(t, err)
	require.NoError(t, s.Close())
}

// Nothing is restored from what is damaged, empty or in use, and what another
// program left half done is in nobody's way.
func TestRestoreRefuses(t *testing.T) {
	folder := t.TempDir()
	path, file, to := filepath.Join(folder, "weir.db"), filepath.Join(folder, "backup"), filepath.Join(folder, "to")
	s, err := Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	for n := range 20 {
		require.NoError(t, s.Commit(t.Context(), storetest.Order(n, clock)))
	}
	require.NoError(t, s.Backup(t.Context(), file))
	var invalid *adapter.Invalid
	_, err = Restore(t.Context(), path, to)
	require.ErrorAs(t, err, &invalid, "its -wal holds a part of it")
	require.NoError(t, s.Close())
	good, err := os.ReadFile(file)
	require.NoError(t, err)
	for name, bad := range map[string][]byte{"empty": {}, "cut": good[:len(good)/2], "other": make([]byte, 8192), "page": append(append(append([]byte{}, good[:len(good)/2]...), make([]byte, 4096)...), good[len(good)/2+4096:]...)} {
		from := filepath.Join(folder, "bad-"+name)
		require.NoError(t, os.WriteFile(from, bad, 0o600))
		_, err := Restore(t.Context(), from, to)
		assert.Error(t, err, name)
		assert.NoFileExists(t, to, name)
	}
	// Another store's log under the name of ours would be read into the copy.
	require.NoError(t, os.WriteFile(to+".part", []byte("half"), 0o600))
	require.NoError(t, os.WriteFile(to+".part-wal", good, 0o600))
	require.NoError(t, os.WriteFile(to+".part.lock", nil, 0o600))
	done, err := Restore(t.Context(), file, to)
	require.NoError(t, err)
	assert.Equal(t, int64(20), done.Health.Rows["order_head"])
	_, err = Restore(t.Context(), file, to)
	require.ErrorAs(t, err, &invalid)
	require.NoError(t, os.Remove(to))
	require.NoError(t, os.WriteFile(to+"-wal", nil, 0o600))
	_, err = Restore(t.Context(), file, to)
	require.ErrorAs(t, err, &invalid, "a -wal without its store is looked at first")
	left, err := filepath.Glob(filepath.Join(folder, "*.part*"))
	require.NoError(t, err)
	assert.Empty(t, left)
}
