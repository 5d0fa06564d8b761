package store

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"slices"
	"sort"

	"weir.example/weir/adapter"
)

// A resource is found by its id through its place, a number made of type and
// id, and the shelf that it is on. Places come at random: as rows of a table
// each touched a page of its own, two thirds of all that was written at 10^5
// orders. So they are kept in runs, each in order (a log-structured merge tree:
// O'Neil, Cheng, Gawlick, O'Neil, Acta Informatica 33, 1996). A transaction
// writes what it adds as one run; many runs of a tier become one of the next:
// see places_merge.go. Who looks for a resource asks every run. That a place
// leads to a shelf is a hint: the shelf says whether the resource is on it.

// place says that a resource may be on a shelf.
type place struct {
	hash  uint64
	shelf int64
}

func comparePlaces(a, b place) int {
	return cmp.Or(cmp.Compare(a.hash, b.hash), cmp.Compare(a.shelf, b.shelf))
}

// placeOf is what a resource is found by its id with.
func placeOf(typ, id string) uint64 {
	sum := sha256.Sum256([]byte(typ + "/" + id))
	return binary.BigEndian.Uint64(sum[:8])
}

// sum is a number of which those of many places can be added up.
func (p place) sum() uint64 {
	sum := sha256.Sum256(encodePlaces([]place{p}))
	return binary.BigEndian.Uint64(sum[:8])
}

// A row of resource_place holds so many places of a run, some more where hashes
// are equal, which stay together; four rows fill a page of SQLite.
const mostPlaces = 64

// placeSize is the hash, 8 bytes, and the shelf, 5 bytes: 10^12 shelves.
const placeSize = 13

// hashKey is a hash as a database compares it.
func hashKey(h uint64) []byte { return binary.BigEndian.AppendUint64(nil, h) }

func encodePlaces(list []place) []byte {
	out := make([]byte, 0, len(list)*placeSize)
	for _, p := range list {
		shelf := binary.BigEndian.AppendUint64(nil, uint64(p.shelf))
		out = append(binary.BigEndian.AppendUint64(out, p.hash), shelf[3:]...)
	}
	return out
}

// placeAt reads the i-th place of a row.
func placeAt(body []byte, i int) place {
	b := body[i*placeSize : (i+1)*placeSize]
	var shelf [8]byte
	copy(shelf[3:], b[8:])
	return place{binary.BigEndian.Uint64(b), int64(binary.BigEndian.Uint64(shelf[:]))}
}

func decodePlaces(body []byte) ([]place, error) {
	if len(body)%placeSize != 0 {
		return nil, &adapter.Damaged{Kind: "resources"}
	}
	out := make([]place, len(body)/placeSize)
	for i := range out {
		out[i] = placeAt(body, i)
	}
	return out, nil
}

// runWriter cuts places that come in order into rows of a run.
type runWriter struct {
	number int64
	tier   int64
	wait   []place
	rows   [][]any
	count  int64
}

func (r *runWriter) add(p place) {
	if len(r.wait) >= mostPlaces && r.wait[len(r.wait)-1].hash != p.hash {
		r.cut()
	}
	r.wait = append(r.wait, p)
	r.count++
}

func (r *runWriter) cut() {
	if len(r.wait) > 0 {
		r.rows = append(r.rows, []any{r.number, hashKey(r.wait[0].hash), encodePlaces(r.wait)})
		r.wait = r.wait[:0]
	}
}

// take gives the statements for what is ready, so that a long run is written
// while it is made.
func (r *runWriter) take() (s statements) {
	s.addRows("resource_place", "INSERT INTO resource_place(run,first,body) VALUES ", errStale, r.rows)
	r.rows = nil
	return s
}

// end gives the statements for the rest, and for the run itself.
func (r *runWriter) end() statements {
	r.cut()
	s := r.take()
	s.add("resource_run", 1, errStale, "INSERT INTO resource_run(n,tier,places) VALUES ($1,$2,$3)"+unlessThere, r.number, r.tier, r.count)
	return s
}

// newRun is what a transaction writes of the resources it adds. Numbers are
// those of its new shelves, and one for the run.
func newRun(list []*shelving, numbers []int64) []Statement {
	var all []place
	for _, h := range list {
		on := h.shelf.number
		if n, fresh := h.number.(nth); fresh {
			on = numbers[n]
		}
		for _, hash := range h.added {
			all = append(all, place{hash, on})
		}
	}
	slices.SortFunc(all, comparePlaces)
	w := runWriter{number: numbers[len(numbers)-1]}
	for _, p := range all {
		w.add(p)
	}
	return w.end()
}

// placeRows asks every run for the one row in which a hash may be. Written as a
// join, a database may read all places.
const placeRows = "SELECT (SELECT p.body" + thatPlace + " FROM resource_run r"

const thatPlace = " FROM resource_place p WHERE p.run = r.n AND p.first <= $1 ORDER BY p.first DESC LIMIT 1)"

// whereIs gives the shelves that a resource may be on, in order: none, or one,
// or more where other resources have the same hash.
func (s *Store) whereIs(ctx context.Context, query queryFunc, typ, id string) (out []int64, err error) {
	hash := placeOf(typ, id)
	err = each(ctx, query, func(r Rows) error {
		var body []byte // nil: the run begins behind it
		if err := r.Scan(&body); err != nil {
			return err
		}
		if len(body)%placeSize != 0 {
			return &adapter.Damaged{Kind: "resources"}
		}
		out = append(out, shelvesOf(body, hash)...)
		return nil
	}, placeRows, hashKey(hash))
	slices.Sort(out)
	return slices.Compact(out), err
}

// shelvesOf gives the shelves of a hash in a row.
func shelvesOf(body []byte, hash uint64) (out []int64) {
	n := len(body) / placeSize
	for i := sort.Search(n, func(i int) bool { return placeAt(body, i).hash >= hash }); i < n && placeAt(body, i).hash == hash; i++ {
		out = append(out, placeAt(body, i).shelf)
	}
	return out
}

// unplaced takes places away.
func unplaced(ctx context.Context, tx Tx, list []place) (out statements, err error) {
	type row struct {
		run   int64
		first string
	}
	rows, changed := map[row][]byte{}, []row{}
	for _, p := range list {
		err := each(ctx, tx.Query, func(r Rows) error {
			var at row
			var first, body []byte
			if err := r.Scan(&at.run, &first, &body); err != nil || first == nil {
				return err
			}
			at.first = string(first)
			before, known := rows[at]
			if !known {
				before = body
			}
			all, err := decodePlaces(before)
			left := slices.DeleteFunc(all, func(q place) bool { return q == p })
			if after := encodePlaces(left); err == nil && !bytes.Equal(before, after) {
				if rows[at] = after; !known {
					changed = append(changed, at)
				}
			}
			return err
		}, "SELECT r.n, (SELECT p.first"+thatPlace+", (SELECT p.body"+thatPlace+" FROM resource_run r", hashKey(p.hash))
		if err != nil {
			return nil, err
		}
	}
	gone := &adapter.Damaged{Kind: "resources"}
	for _, at := range changed {
		if body := rows[at]; len(body) > 0 {
			out.add("erase", 1, gone, "UPDATE resource_place SET body=$3 WHERE run=$1 AND first=$2", at.run, []byte(at.first), body)
		} else {
			out.add("erase", 1, gone, "DELETE FROM resource_place WHERE run=$1 AND first=$2", at.run, []byte(at.first))
		}
	}
	return out, nil
}
