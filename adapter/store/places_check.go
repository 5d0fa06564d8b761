package store

import (
	"context"
	"encoding/binary"
	"fmt"
	"slices"

	"weir.example/weir/adapter"
)

// checkRuns says what is wrong with the places of so many resources, whose
// places have such a sum. Where shelves could not be opened less can be said.
func (s *Store) checkRuns(ctx context.Context, tx Tx, out *adapter.Health, unopened, members int64, sum uint64) error {
	problem := func(format string, args ...any) {
		out.Problems = append(out.Problems, fmt.Sprintf(format, args...))
	}
	places, total, disorder, err := checkPlaces(ctx, tx)
	switch {
	case err != nil:
		return err
	case disorder > 0:
		problem("%d places of resources that are not in order", disorder)
	case unopened > 0:
	case places != members:
		problem("%d resources on shelves and %d places of resources", members, places)
	case total != sum:
		problem("places of resources that lead elsewhere")
	default:
		twins, err := s.checkTwins(ctx, tx)
		if err != nil {
			return err
		}
		if twins > 0 {
			problem("%d resources of one type and id with others", twins)
		}
	}
	var most int64
	err = each(ctx, tx.Query, func(r Rows) error { return r.Scan(&most) },
		"SELECT COALESCE(MAX(runs), 0) FROM (SELECT COUNT(*) AS runs FROM resource_run WHERE places < $1 GROUP BY tier) t", int64(mostMerged))
	if most > mostWaiting {
		problem("%d runs of places wait to be merged: merging fails, and reads become slow", most)
	}
	return err
}

// mostWaiting is how many runs of a tier may wait to be merged: who writes
// looks after them each 16th time, so it is some hundred at most where many do.
const mostWaiting = 32 * runsTogether

// checkPlaces compares where resources are said to be with where they are, by
// their number and by a sum that does not hang on their order.
func checkPlaces(ctx context.Context, tx Tx) (count int64, sum uint64, disorder int64, err error) {
	run, last := int64(-1), place{}
	err = each(ctx, tx.Query, func(r Rows) error {
		var n int64
		var first, body []byte
		if err := r.Scan(&n, &first, &body); err != nil {
			return err
		}
		list, err := decodePlaces(body)
		if err != nil || len(first) != 8 || len(list) == 0 {
			disorder++
			return nil
		}
		if n != run {
			run, last = n, place{}
		}
		if least := binary.BigEndian.Uint64(first); list[0].hash < least || least < last.hash {
			disorder++
		}
		for _, p := range list {
			if p.hash < last.hash {
				disorder++
			}
			count, sum, last = count+1, sum+p.sum(), p
		}
		return nil
	}, "SELECT run, first, body FROM resource_place ORDER BY run, first")
	return count, sum, disorder, err
}

// mostTwins is how many hashes of more than one place are looked at: so much is
// held in memory. Where there are more, more are not counted, but some are.
const mostTwins = 1000

// checkTwins counts the resources that have the type and id of one before them:
// which of them a read gives hangs on chance. Two may have one hash by chance,
// so the shelves say.
func (s *Store) checkTwins(ctx context.Context, tx Tx) (twice int64, err error) {
	runs, err := runsOf(ctx, tx, "1 = 1")
	if err != nil {
		return 0, err
	}
	twins, last := map[uint64][]int64{}, place{} // shelves are from 1 on
	err = mergeRuns(readersOf(ctx, tx, runs), func(p place) error {
		switch on, known := twins[p.hash]; {
		case known:
			twins[p.hash] = append(on, p.shelf)
		case p.hash == last.hash && last.shelf > 0 && len(twins) < mostTwins:
			twins[p.hash] = []int64{last.shelf, p.shelf}
		}
		last = p
		return nil
	})
	if err != nil {
		return 0, err
	}
	for hash, on := range twins {
		held := map[string]bool{}
		for _, n := range slices.Compact(on) {
			h, err := s.shelf(ctx, tx.Query, "n = $1", n)
			if err != nil {
				return 0, err
			}
			for _, m := range h.members {
				if placeOf(m.typ, m.id) != hash {
					continue
				}
				key := m.typ + "/" + m.id
				if held[key] {
					twice++
				}
				held[key] = true
			}
		}
	}
	return twice, nil
}
