package store

import (
	"context"
	"errors"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
)

var errBroken = errors.New("broken")

// rowsOf are the rows of a run as a statement of a store has them.
type rowsOf []struct {
	first uint64
	body  []byte
}

func inRows(t *testing.T, w *runWriter, list []place) (out rowsOf) {
	for _, p := range list {
		w.add(p)
	}
	w.cut()
	for _, row := range w.rows {
		require.Equal(t, w.number, row[0])
		out = append(out, struct {
			first uint64
			body  []byte
		}{placeAt(append(slices.Clone(row[1].([]byte)), make([]byte, 5)...), 0).hash, row[2].([]byte)})
	}
	return out
}

// A hash is always in the last row that begins at or before it, however often
// it comes.
func TestRunsKeepEqualHashesTogether(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for range 300 {
		var list []place
		hashes := 1 + r.IntN(40)
		for range r.IntN(1000) {
			list = append(list, place{uint64(r.IntN(hashes)) << 58, 1 + r.Int64N(1<<40-1)})
		}
		slices.SortFunc(list, comparePlaces)
		rows := inRows(t, &runWriter{number: 7}, list)
		for i := range hashes {
			hash := uint64(i) << 58
			var want, got []place
			for _, p := range list {
				if p.hash == hash {
					want = append(want, p)
				}
			}
			if at := sort.Search(len(rows), func(i int) bool { return rows[i].first > hash }) - 1; at >= 0 {
				all, err := decodePlaces(rows[at].body)
				require.NoError(t, err)
				for _, p := range all {
					if p.hash == hash {
						got = append(got, p)
					}
				}
			}
			require.Equal(t, want, got)
		}
	}
}

// pieces are the places of a run, some rows at a time.
func pieces(list []place, most int) func() []place {
	return func() []place {
		n := min(most, len(list))
		out := list[:n]
		list = list[n:]
		return out
	}
}

// What is merged is what a sort of all gives.
func TestRunsAreMergedInOrder(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 2))
	for range 300 {
		var from []*runReader
		var want, got []place
		for range r.IntN(runsTogether + 1) {
			var list []place
			for range r.IntN(200) {
				list = append(list, place{r.Uint64N(500), r.Int64N(50)})
			}
			slices.SortFunc(list, comparePlaces)
			want = append(want, list...)
			next := pieces(list, 1+r.IntN(70))
			from = append(from, &runReader{next: func() ([]place, error) { return next(), nil }})
		}
		slices.SortFunc(want, comparePlaces)
		require.NoError(t, mergeRuns(from, func(p place) error { got = append(got, p); return nil }))
		require.Equal(t, want, got)
	}
	broken := &runReader{next: func() ([]place, error) { return nil, errBroken }}
	require.ErrorIs(t, mergeRuns([]*runReader{broken}, func(place) error { return nil }), errBroken)
}

func TestPlacesComeBack(t *testing.T) {
	list := []place{{0, 1}, {1, 255}, {1 << 63, 1<<40 - 1}, {1<<64 - 1, 1 << 32}}
	got, err := decodePlaces(encodePlaces(list))
	require.NoError(t, err)
	assert.Equal(t, list, got)
	_, err = decodePlaces(make([]byte, placeSize+1))
	var damaged *adapter.Damaged
	require.ErrorAs(t, err, &damaged)
	assert.NotEqual(t, place{1, 2}.sum(), place{2, 1}.sum())
}

func FuzzPlaces(f *testing.F) {
	f.Add([]byte{}, uint64(0))
	f.Add(encodePlaces([]place{{1, 2}, {1, 3}}), uint64(1))
	f.Fuzz(func(t *testing.T, body []byte, hash uint64) {
		list, err := decodePlaces(body)
		if err == nil {
			require.Equal(t, body, append([]byte{}, encodePlaces(list)...))
		}
		if slices.IsSortedFunc(list, comparePlaces) {
			var want []int64
			for _, p := range list {
				if p.hash == hash {
					want = append(want, p.shelf)
				}
			}
			require.Equal(t, want, shelvesOf(body, hash))
		}
	})
}

// faultyRows fail as a connection may.
type faultyRows struct{ Rows }

func (faultyRows) Next() bool { return false }
func (faultyRows) Err() error { return errBroken }
func (faultyRows) Close()     {}

func TestAReadThatFailsIsNoAnswer(t *testing.T) {
	s := &Store{}
	_, err := s.whereIs(t.Context(), func(context.Context, string, ...any) (Rows, error) { return faultyRows{}, nil }, "Task", "x")
	require.ErrorIs(t, err, errBroken, "not found is another answer")
}
