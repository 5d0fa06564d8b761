package night

import "slices"

// What a fact says of a key and an owner. The order is that in which they are
// read.
const (
	defines   key = iota // a line of the owner is what the key names
	ties                 // a line of the owner shares the key with its patient
	carries              // a line of the owner has the identifier
	named                // the owner has the name, which counts when it is a tie of another
	points               // a line of the owner refers to it
	witnessed            // a Provenance that is nobody's refers to it; its place instead of an owner
)

func (w *worker) fact(k, role key, owner uint64) error {
	w.pair = appendPair(w.pair[:0], pair{uint64(k | role), owner})
	return w.keys.add(w.keys.of(k), w.pair)
}

// known writes what join must know of a patient's line.
func (w *worker) known(r *record, f *facts) error {
	owner := uint64(r.owner)
	own := keyOf('r', f.kind, []byte{'/'}, f.id)
	role := defines
	if f.failed {
		role = ties
	}
	if len(f.id) > 0 {
		if err := w.fact(own, role, owner); err != nil {
			return err
		}
	}
	if slot := &w.seen[owner>>32%seenOwners]; own != r.owner && *slot != r.owner { // that there is such an owner
		*slot = r.owner
		if err := w.fact(r.owner, ties, owner); err != nil {
			return err
		}
	}
	for _, t := range f.ties {
		if t != r.owner {
			if err := w.fact(t, ties, owner); err != nil {
				return err
			}
		}
	}
	if f.failed {
		return nil
	}
	for _, c := range f.carries {
		if err := w.fact(c, carries, owner); err != nil {
			return err
		}
	}
	if f.name != 0 {
		if err := w.fact(f.name, named, owner); err != nil {
			return err
		}
	}
	return r.eachPoint(func(p key) error { return w.fact(p, points, owner) })
}

// mostWitnessed bounds to how many patients one Provenance is given, as in r4.
const mostWitnessed = 100

// nobodys puts a line aside that does not say whose it is.
func (w *worker) nobodys(r *record, f *facts) error {
	place, err := w.shared.add(w.buf)
	if err != nil {
		return err
	}
	for _, k := range append(f.carries, keyOf('r', f.kind, []byte{'/'}, f.id)) {
		w.pair = appendPair(w.pair[:0], pair{uint64(k), uint64(place)})
		if err := w.index.add(w.index.of(k), w.pair); err != nil {
			return err
		}
	}
	if err := w.remember(r, f); err != nil {
		return err
	}
	if string(f.kind) != "Provenance" {
		return nil
	}
	if len(r.points)/8 > mostWitnessed {
		w.mu.Lock()
		w.large[uint64(place)] = map[key]bool{}
		w.mu.Unlock()
	}
	return r.eachPoint(func(p key) error { return w.fact(p, witnessed, uint64(place)) })
}

// union is a forest of patients that are read together, by owner. Who is not
// in it is read alone.
type union map[key]key

func (u union) find(k key) key {
	for {
		up, known := u[k]
		if !known || up == k {
			return k
		}
		if over, known := u[up]; known {
			u[k] = over
		}
		k = up
	}
}

func (u union) join(list []key) {
	if len(list) < 2 {
		return
	}
	least := u.find(list[0])
	for _, k := range list {
		least = min(least, u.find(k))
	}
	for _, k := range list {
		u[u.find(k)] = least
	}
	u[least] = least
	for _, k := range list {
		if _, known := u[k]; !known {
			u[k] = least
		}
	}
}

// settle makes every patient point at the least of its group.
func (u union) settle() {
	for k := range u {
		u[k] = u.find(k)
	}
}

// table finds what is nobody's by key.
type table struct {
	list   []pair
	starts []uint32 // where keys with these high bits begin
}

const tableBits = 16

func (t *table) load(b *buckets) error {
	total := 0
	for i := range b.list {
		total += b.length(i) / pairSize
	}
	t.list = make([]pair, 0, total)
	for i := range b.list {
		from := len(t.list)
		var err error
		if t.list, err = pairsOf(b, i, t.list); err != nil {
			return err
		}
		slices.SortFunc(t.list[from:], comparePairs)
	}
	t.starts = make([]uint32, 1<<tableBits+1)
	for _, p := range t.list {
		t.starts[p.a>>(64-tableBits)+1]++
	}
	for i := 1; i < len(t.starts); i++ {
		t.starts[i] += t.starts[i-1]
	}
	return nil
}

// at gives the places of what the key names.
func (t *table) at(k key) []pair {
	high := uint64(k) >> (64 - tableBits)
	list := t.list[t.starts[high]:t.starts[high+1]]
	from := slices.IndexFunc(list, func(p pair) bool { return p.a >= uint64(k) })
	if from < 0 {
		return nil
	}
	to := from
	for to < len(list) && list[to].a == uint64(k) {
		to++
	}
	return list[from:to]
}
