package night

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"sync"
	"sync/atomic"
)

func comparePairs(x, y pair) int {
	if x.a != y.a {
		return cmp.Compare(x.a, y.a)
	}
	return cmp.Compare(x.b, y.b)
}

// mostTogether bounds how many patients one text unites. A dummy number that
// a sender gives to all would make one patient of the whole hospital. Our own
// decision, no source.
const mostTogether = 1000

// join finds which patients are read together, from the facts of all lines,
// and makes what is nobody's findable.
func (f *Feed) join(ctx context.Context) error {
	var next atomic.Int64
	var group sync.WaitGroup
	errs := make([]error, f.workers)
	for i := range f.workers {
		group.Go(func() {
			for ctx.Err() == nil && errs[i] == nil {
				k := int(next.Add(1)) - 1
				if k >= len(f.keys.list) {
					return
				}
				errs[i] = f.unite(k)
			}
		})
	}
	group.Wait()
	if err := errors.Join(append(errs, ctx.Err())...); err != nil {
		return err
	}
	f.union.settle()
	for _, owners := range f.large {
		if len(owners) > mostWitnessed {
			f.facts.Crowded++
		}
	}
	return errors.Join(f.witness.settle(), f.table.load(f.index))
}

// unite reads one bucket of facts.
func (f *Feed) unite(bucket int) error {
	list, err := pairsOf(f.keys, bucket, make([]pair, 0, f.keys.length(bucket)/pairSize))
	if err != nil {
		return err
	}
	slices.SortFunc(list, comparePairs)
	list = slices.Compact(list)
	for len(list) > 0 {
		k := list[0].a &^ roleBits
		n := 1
		for n < len(list) && list[n].a&^roleBits == k {
			n++
		}
		if n > 1 {
			if err := f.about(list[:n]); err != nil {
				return err
			}
		}
		list = list[n:]
	}
	return nil
}

// about reads the facts of one key.
func (f *Feed) about(list []pair) error {
	var roles [witnessed + 1][]pair
	for len(list) > 0 {
		role, n := list[0].a&roleBits, 1
		for n < len(list) && list[n].a&roleBits == role {
			n++
		}
		roles[role], list = list[:n], list[n:]
	}
	targets := [][]pair{roles[defines], roles[carries]}
	one := [][]pair{roles[defines], roles[ties]}
	if len(roles[ties]) > 0 {
		one = append(one, roles[named])
	}
	if err := f.together(one...); err != nil {
		return err
	}
	if len(roles[points]) > 0 && len(roles[defines])+len(roles[carries]) > 0 {
		if err := f.together(append(targets, roles[points])...); err != nil {
			return err
		}
	}
	for _, w := range roles[witnessed] {
		for _, to := range append(slices.Clone(roles[defines]), roles[carries]...) {
			if err := f.bear(w.b, key(to.b)); err != nil {
				return err
			}
		}
	}
	return nil
}

// together makes one group of the owners of all facts.
func (f *Feed) together(lists ...[]pair) error {
	var owners []key
	for _, l := range lists {
		for _, p := range l {
			owners = append(owners, key(p.b))
		}
	}
	slices.Sort(owners)
	owners = slices.Compact(owners)
	if len(owners) < 2 {
		return nil
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if len(owners) > mostTogether {
		f.facts.Crowded++
		return nil
	}
	f.union.join(owners)
	return nil
}

// bear notes that a Provenance names a patient's line.
func (f *Feed) bear(place uint64, owner key) error {
	if owners, large := f.large[place]; large {
		f.mu.Lock()
		if len(owners) <= mostWitnessed {
			owners[owner] = true
		}
		f.mu.Unlock()
	}
	return f.witness.add(f.witness.of(owner), appendPair(nil, pair{uint64(owner), place}))
}
