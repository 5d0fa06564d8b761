package night

import (
	"encoding/binary"
	"errors"
	"os"
	"slices"
	"sync"
	"sync/atomic"
)

// learned is what the next night wants to know of the lines that were scanned.
// nil learns nothing.
type learned struct {
	old                   *memory // nil: none
	root                  *os.Root
	lines, shared, groups *buckets     // entries of a memory, of shared behind their length
	count                 atomic.Int64 // of lines
	mu                    sync.Mutex
	owners                []key // of groups
}

const learnedParts, learnedBuffer = 256, 16 << 10

func newLearned(root *os.Root, old *memory) (*learned, error) {
	l := &learned{old: old, root: root}
	return l, l.open()
}

func (l *learned) open() error {
	var bad [3]error
	l.lines, bad[0] = newBuckets(l.root, "learned-lines", learnedParts, learnedBuffer)
	l.shared, bad[1] = newBuckets(l.root, "learned-shared", learnedParts, 4<<10)
	l.groups, bad[2] = newBuckets(l.root, "learned-groups", learnedParts, 4<<10)
	return errors.Join(bad[:]...)
}

// empty forgets what was learned so far.
func (l *learned) empty() error {
	l.count.Store(0)
	l.owners = nil
	return errors.Join(l.close(), l.open())
}

func (l *learned) close() error {
	if l == nil {
		return nil
	}
	var err error
	for _, b := range []*buckets{l.lines, l.shared, l.groups} {
		if b != nil {
			err = errors.Join(err, b.close())
		}
	}
	return err
}

// group learns a patient who is read alone and of whom no line is lost: only
// such a one is ever passed over.
func (l *learned) group(g *Group, own []*record) error {
	if l == nil || len(g.Lost) > 0 || len(g.Keys) > 1 {
		return nil
	}
	r := remembered{owner: g.owner, held: uint32(g.size()), sum: g.Sum}
	marks := make([]mark, 0, len(own))
	for _, o := range own {
		r.newest = max(r.newest, o.updated)
		marks = append(marks, markOf(o.sum, keyOf('t', o.kind)))
	}
	slices.SortFunc(marks, mark.compare)
	marks = slices.Compact(marks)
	r.count = uint32(len(marks))
	var entry [lineSize]byte
	for _, m := range marks {
		one := binary.LittleEndian.AppendUint64(m.append(entry[:0]), uint64(g.owner))
		if err := l.lines.add(l.lines.of(key(m.hi)), one); err != nil {
			return err
		}
	}
	l.count.Add(int64(len(marks)))
	l.mu.Lock()
	l.owners = append(l.owners, g.owner)
	l.mu.Unlock()
	return l.groups.add(l.groups.of(g.owner), r.append(nil))
}

// remember learns something of nobody's.
func (w *worker) remember(r *record, f *facts) error {
	l := w.learned
	if l == nil {
		return nil
	}
	n := nobody{keys: slices.Concat(f.carries, []key{keyOf('r', f.kind, []byte{'/'}, f.id)}), witness: string(f.kind) == "Provenance"}
	_ = r.eachPoint(func(p key) error { n.points = append(n.points, p); return nil })
	if w.again != nil && !w.again.off {
		w.nobody = append(w.nobody, n)
	}
	list := slices.Clone(n.keys) // which stand: a class of 0
	if n.witness {
		for _, p := range n.points {
			list = append(list, p|pointed)
		}
	}
	slices.Sort(list)
	list = slices.Compact(list)
	m := markOf(r.sum, keyOf('t', r.kind))
	entry := make([]byte, 4, 24+8*len(list))
	entry = binary.LittleEndian.AppendUint32(m.append(entry), uint32(len(list)))
	for _, k := range list {
		entry = binary.LittleEndian.AppendUint64(entry, uint64(k))
	}
	binary.LittleEndian.PutUint32(entry, uint32(len(entry)-4))
	return l.shared.add(l.shared.of(key(m.hi)), entry)
}

// note keeps the keys of a line that is new.
func (w *worker) note(r *record, f *facts) {
	add := func(c class, list ...key) {
		for _, k := range list {
			w.noted = append(w.noted, k|c)
		}
	}
	if len(f.id) > 0 {
		add(stands, keyOf('r', f.kind, []byte{'/'}, f.id))
	}
	if f.owned {
		add(stands, r.owner)
		add(stands, f.ties...)
	}
	if f.failed {
		return
	}
	add(stands, f.carries...)
	if f.name != 0 {
		add(called, f.name)
	}
	if f.owned || string(f.kind) == "Provenance" {
		_ = r.eachPoint(func(p key) error { add(pointed, p); return nil })
	}
}
