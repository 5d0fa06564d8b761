package store

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"weir.example/weir/adapter"
)

var shelfClock = time.Date(2026, 11, 10, 19, 20, 0, 0, time.UTC)

// A shelf comes back as it was written, after any number of replacements, and
// its rows are those of a shelf that was made of the newest versions at once.
func TestShelvesComeBack(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		s := &shelf{patient: "p", values: map[sought]bits{}}
		newest := map[int]adapter.Resource{}
		for range 1 + r.IntN(60) {
			slot := r.IntN(len(s.members) + 1)
			one := adapter.Resource{Type: []string{"Task", "Observation"}[slot%2], ID: fmt.Sprint("r", slot), Version: int64(r.IntN(5) + 1), Updated: shelfClock.Add(time.Duration(r.IntN(3)) * time.Second),
				Source: []string{"", "d"}[r.IntN(2)], JSON: []byte(fmt.Sprintf(`{"id":"r%d","n":%d}`, slot, r.IntN(1000)))}
			for range r.IntN(6) {
				one.Values = append(one.Values, adapter.Value{Name: fmt.Sprint("n", r.IntN(3)), Text: []string{"a", "", "Task/r0", "Observation/r99", "Patient/p"}[r.IntN(5)], System: []string{"", "s"}[r.IntN(2)]})
			}
			if r.IntN(2) == 0 {
				one.Identifiers = []adapter.Identity{{System: uris, Value: asURI + one.ID}}
			}
			s.put(slot, one, shelfClock)
			newest[slot] = one
		}
		got := &shelf{patient: "p"}
		require.NoError(t, got.decode(s.encode()))
		require.Equal(t, s.members, got.members)
		require.Equal(t, s.values, got.values)
		require.Equal(t, s.size, got.size)
		require.Equal(t, s.encode(), got.encode(), "one content, one form")
		again := &shelf{patient: "p", values: map[sought]bits{}}
		for slot := range len(s.members) {
			again.put(slot, newest[slot], shelfClock)
		}
		require.Equal(t, again.rows(), s.rows())
		all := 0
		for v, b := range s.rows() {
			require.NotEmpty(t, b)
			require.NotZero(t, b[len(b)-1], "no zeros at the end")
			if v.name == anything {
				all += b.count()
			}
			require.NotEqual(t, "Patient/p", v.text+v.system, "the patient has no row of its own")
		}
		require.Equal(t, len(s.members), all)
	}
}

// Sets of slots are sets.
func TestBits(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		var a, b bits
		x, y := map[int]bool{}, map[int]bool{}
		for range r.IntN(20) {
			i := r.IntN(60)
			a, x[i] = a.with(i), true
			i = r.IntN(60)
			b, y[i] = b.with(i), true
		}
		if i := r.IntN(60); x[i] {
			a = a.without(i)
			delete(x, i)
		}
		either, both, only := maps.Clone(x), map[int]bool{}, map[int]bool{}
		maps.Copy(either, y)
		for i := range x {
			if y[i] {
				both[i] = true
			} else {
				only[i] = true
			}
		}
		before := slices.Clone(a)
		for _, c := range []struct {
			want map[int]bool
			got  bits
		}{{x, a}, {either, a.or(b)}, {both, a.and(b)}, {only, a.minus(b)}} {
			require.Equal(t, slices.Sorted(maps.Keys(c.want)), slices.Collect(c.got.slots()))
			require.Equal(t, len(c.want), c.got.count())
			require.True(t, len(c.got) == 0 || c.got[len(c.got)-1] != 0)
		}
		require.Equal(t, before, a, "nothing of it is changed by asking")
	}
}

// What is no shelf is refused, whatever it is.
func FuzzShelf(f *testing.F) {
	s := &shelf{values: map[sought]bits{}}
	s.put(0, adapter.Resource{Type: "Task", ID: "a", Version: 1, Updated: shelfClock, JSON: []byte(`{}`), Values: []adapter.Value{{Name: "n", Text: "t"}}}, shelfClock)
	plain, err := unsqueeze(s.encode())
	require.NoError(f, err)
	f.Add(plain)
	for i := range plain {
		f.Add(plain[:i])
	}
	f.Add([]byte{1, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x01})
	f.Fuzz(func(t *testing.T, data []byte) {
		one := &shelf{}
		if one.decode(squeeze(data)) != nil {
			return
		}
		back := &shelf{}
		require.NoError(t, back.decode(one.encode()))
		assert.Equal(t, one.members, back.members)
		assert.Equal(t, one.values, back.values)
		one.rows()
	})
}
