package store

import (
	"context"
	"slices"
)

const (
	// runsTogether runs of a tier become one of the next.
	runsTogether = 32
	// mostMerged is how many places a run may have to be merged. So one merge
	// writes 4 million at most, 55 MB, for which others wait some seconds
	// (reckoned); 10^6 orders leave 106 runs.
	mostMerged = 1 << 17
	// askedEach is after how many transactions it is looked whether runs wait.
	askedEach = 16
)

// Alone among the locks of a transaction says that it writes much, and is not
// to be done together with others.
const Alone = "\x00alone"

// tidied merges runs now and then. What was committed stays committed whatever
// becomes of it: runs that could not be merged are merged by whoever comes next.
func (s *Store) tidied(ctx context.Context) {
	if s.commits.Add(1)%askedEach == 1 {
		_ = s.merge(ctx)
	}
}

// merge makes one run of many, until no tier has too many.
func (s *Store) merge(ctx context.Context) error {
	for {
		tier, err := s.fullTier(ctx, s.b.Query)
		if err != nil || tier < 0 {
			return err
		}
		err = s.write(ctx, []string{Alone}, func(tx Tx) error {
			tier, err := s.fullTier(ctx, tx.Query) // another may have been first
			if err != nil || tier < 0 {
				return err
			}
			return s.mergeTier(ctx, tx, tier)
		})
		if err != nil {
			return err
		}
	}
}

// fullTier is the lowest tier with runs to merge, -1 for none.
func (s *Store) fullTier(ctx context.Context, query queryFunc) (int64, error) {
	tier := int64(-1)
	err := each(ctx, query, func(r Rows) error { return r.Scan(&tier) },
		"SELECT tier FROM resource_run WHERE places < $1 GROUP BY tier HAVING COUNT(*) >= $2 ORDER BY tier LIMIT 1", int64(mostMerged), int64(runsTogether))
	return tier, err
}

func (s *Store) mergeTier(ctx context.Context, tx Tx, tier int64) error {
	old, err := runsOf(ctx, tx, "tier = $1 AND places < $2 ORDER BY n LIMIT $3", tier, int64(mostMerged), int64(runsTogether))
	if err != nil {
		return err
	}
	numbers, err := s.b.Numbers(ctx, tx, 1)
	if err != nil {
		return err
	}
	w := runWriter{number: numbers[0], tier: tier + 1}
	if err := mergeRuns(readersOf(ctx, tx, old), func(p place) error {
		if w.add(p); len(w.rows) < rowsTogether {
			return nil
		}
		return tx.Run(ctx, w.take())
	}); err != nil {
		return err
	}
	list := w.end()
	for _, n := range old {
		list.add("resource_place", -1, nil, "DELETE FROM resource_place WHERE run = $1", n)
		list.add("resource_run", 1, errStale, "DELETE FROM resource_run WHERE n = $1", n)
	}
	return tx.Run(ctx, list)
}

// runsOf are the numbers of some runs.
func runsOf(ctx context.Context, tx Tx, where string, args ...any) (out []int64, err error) {
	err = each(ctx, tx.Query, func(r Rows) error {
		var n int64
		err := r.Scan(&n)
		out = append(out, n)
		return err
	}, "SELECT n FROM resource_run WHERE "+where, args...)
	return out, err
}

// readersOf read runs.
func readersOf(ctx context.Context, tx Tx, runs []int64) (out []*runReader) {
	for _, n := range runs {
		out = append(out, &runReader{next: rowsOfRun(ctx, tx, n)})
	}
	return out
}

// runReader reads a run some places at a time; no more are the end.
type runReader struct {
	next   func() ([]place, error)
	places []place
}

// more reads on when all was taken, and says whether there is a place.
func (f *runReader) more() (bool, error) {
	if len(f.places) > 0 {
		return true, nil
	}
	var err error
	f.places, err = f.next()
	return len(f.places) > 0, err
}

// mergeRuns gives the places of many runs in order.
func mergeRuns(from []*runReader, do func(place) error) error {
	var open []*runReader
	for _, f := range from {
		more, err := f.more()
		if err != nil {
			return err
		}
		if more {
			open = append(open, f)
		}
	}
	for len(open) > 0 {
		least := 0
		for i, f := range open {
			if comparePlaces(f.places[0], open[least].places[0]) < 0 {
				least = i
			}
		}
		f := open[least]
		if err := do(f.places[0]); err != nil {
			return err
		}
		f.places = f.places[1:]
		more, err := f.more()
		if err != nil {
			return err
		}
		if !more {
			open = slices.Delete(open, least, least+1)
		}
	}
	return nil
}

// rowsOfRun gives the places of some rows of a run, and then of the next.
func rowsOfRun(ctx context.Context, tx Tx, run int64) func() ([]place, error) {
	last := []byte{}
	return func() (out []place, err error) {
		err = each(ctx, tx.Query, func(r Rows) error {
			var body []byte
			if err := r.Scan(&last, &body); err != nil {
				return err
			}
			list, err := decodePlaces(body)
			out = append(out, list...)
			return err
		}, "SELECT first, body FROM resource_place WHERE run = $1 AND first > $2 ORDER BY first LIMIT 16", run, last)
		return out, err
	}
}

// placesAgain makes the places of all shelves anew, for a store that has none.
func (s *Store) placesAgain(ctx context.Context, tx Tx) error {
	const together = mostMerged << 4 // 32 MB
	var wait []place
	write := func() error {
		slices.SortFunc(wait, comparePlaces)
		numbers, err := s.b.Numbers(ctx, tx, 1)
		if err != nil {
			return err
		}
		w := runWriter{number: numbers[0], tier: 1}
		for _, p := range wait {
			w.add(p)
		}
		wait = wait[:0]
		return tx.Run(ctx, w.end())
	}
	for last, rows := int64(0), 1; rows > 0; {
		rows = 0
		err := each(ctx, tx.Query, func(r Rows) error {
			h, err := scanShelf(r)
			if err != nil {
				return err
			}
			rows, last = rows+1, h.number
			for _, m := range h.members {
				wait = append(wait, place{placeOf(m.typ, m.id), h.number})
			}
			return nil
		}, shelfColumns+"n > $1 ORDER BY n LIMIT 50", last)
		if err != nil {
			return err
		}
		if len(wait) >= together {
			if err := write(); err != nil {
				return err
			}
		}
	}
	if len(wait) == 0 {
		return nil
	}
	return write()
}
