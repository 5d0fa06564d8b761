package store_test

import (
	"path/filepath"
	"testing"

	"github.com/ncruces/go-sqlite3/driver"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter/store"
	"weir.example/weir/adapter/store/sqlite"
)

// explained calls take for every row of what SQLite says of a statement.
func explained(t *testing.T, text string, take func(scan func(...any) error) error, args ...any) {
	path := filepath.Join(t.TempDir(), "weir.db")
	s, err := sqlite.Open(t.Context(), path, store.Options{})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	db, err := driver.Open("file:" + filepath.ToSlash(path))
	require.NoError(t, err)
	defer func() { require.NoError(t, db.Close()) }()
	rows, err := db.QueryContext(t.Context(), text, args...)
	require.NoError(t, err)
	defer func() { require.NoError(t, rows.Close()) }()
	for rows.Next() {
		require.NoError(t, take(rows.Scan))
	}
	require.NoError(t, rows.Err())
}

// A stretch of the patients of a night is read from its first one on, not from
// the first of all: read so, a night cost the square of its orders. SQLite's
// own listing of the program says where it begins (sqlite.org/opcode.html):
// at or above a value given, SeekGE, not above the 0 of the index, SeekGT.
func TestAStretchOfANightIsReadFromItsBeginning(t *testing.T) {
	first := ""
	explained(t, "EXPLAIN "+store.FeedRangeSQL, func(scan func(...any) error) error {
		var addr, p1, p2, p3, p5 int
		var opcode string
		var p4, comment any
		err := scan(&addr, &opcode, &p1, &p2, &p3, &p4, &p5, &comment)
		if first == "" && (opcode == "Rewind" || len(opcode) == 6 && opcode[:4] == "Seek") {
			first = opcode
		}
		return err
	}, 5, 10)
	require.Equal(t, "SeekGE", first)
}

// A place is sought in each run, never among all places.
func TestAPlaceIsSoughtInEachRun(t *testing.T) {
	var plan []string
	explained(t, "EXPLAIN QUERY PLAN "+store.PlaceRowsSQL, func(scan func(...any) error) error {
		var id, parent, unused int
		var detail string
		err := scan(&id, &parent, &unused, &detail)
		plan = append(plan, detail)
		return err
	}, []byte{1})
	require.Equal(t, []string{"SCAN r", "CORRELATED SCALAR SUBQUERY 1", "SEARCH p USING PRIMARY KEY (run=? AND first<?)"}, plan)
}
