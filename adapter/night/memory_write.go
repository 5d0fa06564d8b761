package night

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"math/bits"
	"slices"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance"
)

// remember writes down what the next night wants to know of this feed, once
// its groups have been handed out.
func (f *Feed) remember(ctx context.Context, record adapter.Feeds) error {
	l := f.learned
	switch {
	case l == nil:
		return nil
	case f.facts.Crowded > 0: // who is read together may then hang on a number of patients, not on lines alone
		return forget(ctx, record)
	case f.again != nil && !f.again.off && len(f.again.keys) == 0 && len(l.owners) == 0 && !f.again.left():
		return nil // it is as it was
	}
	if err := errors.Join(l.lines.settle(), l.shared.settle(), l.groups.settle()); err != nil {
		return err
	}
	slices.Sort(l.owners)
	count := l.count.Load()
	if f.again != nil && !f.again.off {
		for i := range f.again.crowds {
			c := &f.again.crowds[i]
			for k := range c.owners {
				if c.passed(k) {
					count += int64(c.want[k])
				}
			}
		}
	}
	w := writing{Feed: f, record: record, memory: memory{Format: memoryFormat, Program: conformance.Program(), Bits: min(mostBits, bits.Len64(uint64(count)/linesTogether)), Sums: map[string][]byte{}},
		lines: stream{b: l.lines, size: lineSize}, shared: stream{b: l.shared}, groups: stream{b: l.groups, size: groupSize}, facts: stream{b: f.keys, size: pairSize}}
	err := w.write(ctx)
	if errors.Is(err, errMemory) { // a part that nobody had to look at: the next night reads all
		return forget(ctx, record)
	}
	return err
}

func forget(ctx context.Context, record adapter.Feeds) error {
	return record.Remember(ctx, []adapter.MemoryPart{{Kind: headPart}}, 0)
}

// linesTogether is how many lines a part has at least, once there are so many.
// A variable for tests.
var linesTogether uint64 = 8 << 10

// left reports whether a patient of the last night is not passed over.
func (a *compared) left() bool {
	for i := range a.crowds {
		for k := range a.crowds[i].owners {
			if !a.crowds[i].passed(k) {
				return true
			}
		}
	}
	return false
}

// stream gives the entries of buckets in order, a stretch at a time. Entries
// have one size, or, with 0, a length before each.
type stream struct {
	b    *buckets
	size int
	next int
	list [][]byte
}

// below gives the entries whose first number is below a bound, unsorted; all
// that are left with 0.
func (s *stream) below(bound uint64) (out [][]byte, err error) {
	for {
		rest := s.list[:0]
		for _, e := range s.list {
			if bound == 0 || binary.LittleEndian.Uint64(e) < bound {
				out = append(out, e)
			} else {
				rest = append(rest, e)
			}
		}
		if s.list = rest; len(rest) > 0 || s.next == len(s.b.list) {
			return out, nil
		}
		data, err := s.b.whole(s.next)
		if err != nil {
			return nil, err
		}
		for s.next++; len(data) > 0; {
			from, size := 0, s.size
			if size == 0 {
				from, size = 4, int(binary.LittleEndian.Uint32(data))
			}
			s.list, data = append(s.list, data[from:from+size]), data[from+size:]
		}
	}
}

// writing is how a memory is written: from what was learned tonight, and what
// the old one says of those who were passed over.
type writing struct {
	*Feed
	record                       adapter.Feeds
	memory                       memory
	lines, shared, groups, facts stream
	waiting                      []adapter.MemoryPart
	size                         int
	begun                        bool
}

// memoryTogether is how many bytes of parts are written in one transaction.
const memoryTogether = 4 << 20

func (w *writing) write(ctx context.Context) error {
	m := &w.memory
	for n := range m.parts() {
		from, to := uint64(n)<<(64-m.Bits), uint64(n+1)<<(64-m.Bits) // the last bound is 0
		for _, kind := range memoryKinds {
			body, err := w.part(ctx, kind, from, to)
			if err != nil {
				return err
			}
			sum := sha256.Sum256(body)
			m.Sums[kind] = append(m.Sums[kind], sum[:]...)
			if old := w.learned.old; old != nil && old.Bits == m.Bits && bytes.Equal(old.sum(kind, n), sum[:]) && !w.damaged() {
				continue
			}
			if err := w.put(ctx, adapter.MemoryPart{Kind: kind, Number: n, Body: body}); err != nil {
				return err
			}
		}
	}
	if !w.begun {
		return nil
	}
	w.waiting = append(w.waiting, m.head())
	return w.record.Remember(ctx, w.waiting, m.parts())
}

// damaged reports whether the old memory could not be used.
func (w *writing) damaged() bool { return w.again != nil && w.again.broken }

// put writes parts some at a time. Before the first the old head is taken
// away, so that parts of two memories are never taken for one.
func (w *writing) put(ctx context.Context, p adapter.MemoryPart) error {
	if !w.begun {
		w.begun = true
		if err := forget(ctx, w.record); err != nil {
			return err
		}
	}
	w.waiting, w.size = append(w.waiting, p), w.size+len(p.Body)
	if w.size < memoryTogether {
		return nil
	}
	err := w.record.Remember(ctx, w.waiting, 0)
	w.waiting, w.size = nil, 0
	return err
}

// part makes the entries from a number on up to another.
func (w *writing) part(ctx context.Context, kind string, from, to uint64) ([]byte, error) {
	var entries [][]byte
	var err error
	compare := bytes.Compare
	numbers := func(count int) func(a, b []byte) int { // of so many numbers of 64 bits
		return func(a, b []byte) int {
			for i := range count {
				if c := cmp.Compare(binary.LittleEndian.Uint64(a[8*i:]), binary.LittleEndian.Uint64(b[8*i:])); c != 0 {
					return c
				}
			}
			return bytes.Compare(a, b)
		}
	}
	switch kind {
	case linesPart:
		entries, err = w.lines.below(to)
		compare = numbers(3)
	case groupsPart:
		entries, err = w.groups.below(to)
		compare = numbers(1)
	case sharedPart:
		entries, err = w.shared.below(to)
		compare = numbers(2)
	case factsPart:
		if entries, err = w.facts.below(to); err == nil {
			entries = w.kept(entries)
		}
		compare = numbers(2)
	}
	if err != nil {
		return nil, err
	}
	slices.SortFunc(entries, compare)
	var body, last []byte
	add := func(e []byte) {
		if last != nil && (bytes.Equal(last, e) || kind == factsPart && samePair(last, e)) {
			return
		}
		body = append(body, e...)
		last = body[len(body)-len(e):]
	}
	err = w.old(ctx, kind, from, to, func(size int) { body = slices.Grow(body, size) }, func(e []byte) {
		for len(entries) > 0 && compare(entries[0], e) <= 0 {
			add(entries[0])
			entries = entries[1:]
		}
		add(e)
	})
	for _, e := range entries {
		add(e)
	}
	if body == nil {
		body = []byte{} // a part without entries, not none
	}
	return body, err
}

// samePair is for facts that are sorted: what stands is touched by whatever
// touches it as something pointed to.
func samePair(a, b []byte) bool {
	return (binary.LittleEndian.Uint64(a)^binary.LittleEndian.Uint64(b))&^uint64(roleBits) == 0 && bytes.Equal(a[8:16], b[8:16])
}

// kept are the facts of patients who were learned, with their class for a role.
func (w *writing) kept(list [][]byte) (out [][]byte) {
	for _, e := range list {
		k, owner := key(binary.LittleEndian.Uint64(e)), key(binary.LittleEndian.Uint64(e[8:]))
		if role := k & roleBits; role == witnessed {
			continue
		}
		if _, known := slices.BinarySearch(w.learned.owners, owner); known {
			binary.LittleEndian.PutUint64(e, uint64(k&^roleBits|classOf(k&roleBits)))
			out = append(out, e)
		}
	}
	return out
}

// old gives what the old memory has of those who were passed over, in order,
// and before it how many bytes at most.
func (w *writing) old(ctx context.Context, kind string, from, to uint64, grow func(int), take func([]byte)) error {
	a := w.again
	if a == nil || a.off || kind == sharedPart { // what is nobody's is scanned each night
		return nil
	}
	size, who := map[string]int{linesPart: lineSize, factsPart: pairSize, groupsPart: groupSize}[kind], map[string]int{linesPart: 16, factsPart: 8}[kind]
	for n := partOf(from, a.memory.Bits); n <= partOf(to-1, a.memory.Bits); n++ {
		data, err := a.memory.part(ctx, kind, n)
		if err != nil {
			return err
		}
		grow(len(data))
		for ; len(data) >= size; data = data[size:] {
			if x := binary.LittleEndian.Uint64(data); x < from || to != 0 && x >= to {
				continue
			}
			owner := binary.LittleEndian.Uint64(data[who:])
			c := &a.crowds[partOf(owner, a.memory.Bits)]
			if i := c.at(key(owner)); i >= 0 && c.passed(i) {
				take(data[:size:size])
			}
		}
	}
	return nil
}
