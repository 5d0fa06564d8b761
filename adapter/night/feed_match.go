package night

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"sync/atomic"

	"weir.example/weir/adapter"
)

// recognise finds out which patients are as the last night left them, and
// scans and joins the lines of all others. May says by what the record has of
// a patient whether he could be passed over if his lines have that sum.
func (f *Feed) recognise(ctx context.Context, record adapter.Feeds, may func(adapter.FeedLine, [32]byte) bool) error {
	a := f.again
	if a == nil {
		return nil
	}
	a.base, a.failed = f.facts.clone(), len(f.failures.list)
	err := f.compare(ctx, record, may)
	if a.broken = errors.Is(err, errMemory); a.broken || errors.Is(err, errMuch) {
		err = f.everything(ctx)
	}
	if err != nil {
		return err
	}
	return f.joined(ctx)
}

// errMuch is that so much is new that all is scanned, one after the other.
var errMuch = errors.New("night: much is new")

// much reports whether so many lines are worth reading alone: not more than
// one in ten, once there are many.
func (a *compared) much(lines int) bool { return lines > manyLines && lines > a.lines/10 }

// manyLines is a variable for tests.
var manyLines = 1000

func (f *Feed) compare(ctx context.Context, record adapter.Feeds, may func(adapter.FeedLine, [32]byte) bool) error {
	a := f.again
	if err := a.marks.settle(); err != nil {
		return err
	}
	if err := f.side(ctx, len(a.crowds), func(_, n int) error { return a.ask(ctx, record, n, may) }); err != nil {
		return err
	}
	if err := a.ahead.settle(); err != nil {
		return err
	}
	fresh, same, err := f.match(ctx)
	if err != nil {
		return err
	}
	if a.much(len(fresh)) {
		return errMuch
	}
	workers := f.scanners(false)
	for _, do := range a.late {
		if err := do(workers[0]); err != nil {
			return err
		}
	}
	if err := f.scan(ctx, fresh, true); err != nil {
		return err
	}
	if err := f.scan(ctx, same, false); err != nil {
		return err
	}
	a.spread()
	if err := f.touch(ctx); err != nil {
		return err
	}
	others, err := a.others()
	if err != nil {
		return err
	}
	return f.scan(ctx, others, false)
}

// ask reads what is remembered of the patients of one part, and what the
// record has of them.
func (a *compared) ask(ctx context.Context, record adapter.Feeds, n int, may func(adapter.FeedLine, [32]byte) bool) error {
	data, err := a.memory.part(ctx, groupsPart, n)
	if err != nil {
		return err
	}
	c := crowd{said: -1}
	var list []remembered
	for ; len(data) >= groupSize; data = data[groupSize:] {
		r := readRemembered(data)
		list = append(list, r)
		c.owners, c.want = append(c.owners, r.owner), append(c.want, r.count)
	}
	c.got, c.state = make([]uint32, len(list)), make([]uint32, len(list))
	a.crowds[n] = c
	if len(list) == 0 {
		return nil
	}
	at := 0
	var said []byte
	to := int64(math.MaxInt64)
	if n+1 < len(a.crowds) {
		to = key(uint64(n+1) << (64 - a.memory.Bits)).place()
	}
	err = record.FeedRange(ctx, max(1, key(uint64(n)<<(64-a.memory.Bits)).place()), to, func(l adapter.FeedLine) error {
		for at < len(list) && list[at].owner.place() < l.Place {
			at++
		}
		if at == len(list) || list[at].owner.place() != l.Place || !may(l, list[at].sum) {
			return nil
		}
		if c.state[at] != 0 { // two of one place: neither
			c.state[at] |= isTouched
			return nil
		}
		c.state[at] = staysOver
		said = binary.AppendUvarint(said, uint64(at))
		said = binary.AppendUvarint(said, uint64(list[at].held))
		said = binary.AppendUvarint(said, uint64(list[at].newest))
		for _, part := range [][]byte{[]byte(l.Key), []byte(l.Patient), []byte(l.Night), l.Report} {
			said = append(binary.AppendUvarint(said, uint64(len(part))), part...)
		}
		return nil
	})
	if err != nil {
		return err
	}
	a.crowds[n].said, err = a.ahead.add(said)
	return err
}

// match compares the marks of tonight with those of the last night. It gives
// the lines that are new, and those that are nobody's and not new.
func (f *Feed) match(ctx context.Context) (fresh, same []spot, err error) {
	a := f.again
	err = f.side(ctx, len(a.crowds), func(_, n int) error {
		lines, err := a.memory.part(ctx, linesPart, n)
		if err != nil {
			return err
		}
		shared, err := a.memory.part(ctx, sharedPart, n)
		if err != nil {
			return err
		}
		marks, err := a.marks.whole(n)
		if err != nil {
			return err
		}
		nobodys, at := map[mark]int{}, []int{}
		for i := 0; i < len(shared); i += sharedSize(shared[i:]) {
			nobodys[readMark(shared[i:])], at = len(at), append(at, i)
		}
		hit, met := make([]bool, len(lines)/lineSize), make([]bool, len(at))
		var fresh1, same1 []spot
		var rest []byte
		for ; len(marks) >= markSize; marks = marks[markSize:] {
			m := readMark(marks)
			if i := findMark(lines, m, a.memory.Bits); i >= 0 {
				owner := key(binary.LittleEndian.Uint64(lines[i*lineSize+16:]))
				part := partOf(uint64(owner), a.memory.Bits)
				k := a.crowds[part].at(owner)
				if k < 0 {
					return errMemory
				}
				if !hit[i] {
					hit[i] = true
					atomic.AddUint32(&a.crowds[part].got[k], 1)
				}
				rest = binary.LittleEndian.AppendUint32(rest, uint32(part))
				rest = binary.LittleEndian.AppendUint32(rest, uint32(k))
				rest = append(rest, marks[16:markSize]...)
			} else if i, is := nobodys[m]; is {
				met[i] = true
				same1 = append(same1, readSpot(marks[16:]))
			} else {
				fresh1 = append(fresh1, readSpot(marks[16:]))
			}
		}
		if len(rest) > 0 {
			if _, err := a.rest.write(rest); err != nil {
				return err
			}
		}
		a.mu.Lock()
		defer a.mu.Unlock()
		fresh, same = append(fresh, fresh1...), append(same, same1...)
		for i, there := range met {
			if !there {
				a.gone(shared[at[i]:])
			}
		}
		return nil
	})
	return fresh, same, err
}

func sharedSize(in []byte) int { return 20 + 8*int(binary.LittleEndian.Uint32(in[16:])) }

// gone notes the keys of something of nobody's that is not there any more.
func (a *compared) gone(entry []byte) {
	for k := entry[20:sharedSize(entry)]; len(k) > 0; k = k[8:] {
		x := key(binary.LittleEndian.Uint64(k))
		a.keys[x&^roleBits] |= 1 << (x & roleBits)
	}
}

// findMark finds a mark among sorted entries: sums are spread evenly, so its
// place is guessed. -1 when it is not there.
func findMark(lines []byte, m mark, bits int) int {
	n := len(lines) / lineSize
	low, high := 0, n // it is in low..high
	guess := int(float64(m.hi<<bits) / (1 << 64) * float64(n))
	for step := 0; low < high; step++ {
		i := guess
		if step > 4 || i < low || i >= high {
			i = (low + high) / 2
		}
		c := readMark(lines[i*lineSize:]).compare(m)
		switch {
		case c == 0:
			return i
		case c < 0:
			low, guess = i+1, i+1+step*4
		default:
			high, guess = i, i-1-step*4
		}
	}
	return -1
}

// nobody is something of nobody's by its keys.
type nobody struct {
	keys     []key // by which it is found
	points   []key
	witness  bool // it counts for whom it points to
	affected bool
}

// spread adds the keys of what leads on to what is new or gone: whoever is led
// there has other lines than before.
func (a *compared) spread() {
	for more := len(a.keys) > 0; more; {
		more = false
		for i := range a.nobody {
			n := &a.nobody[i]
			if n.affected {
				continue
			}
			for _, p := range n.points {
				n.affected = n.affected || a.keys[p]&(1<<stands) != 0
			}
			if !n.affected {
				continue
			}
			more = true
			for _, k := range n.keys {
				a.keys[k] |= 1 << stands
			}
			if n.witness {
				for _, p := range n.points {
					a.keys[p] |= 1 << pointed
				}
			}
		}
	}
}

// touch finds the patients whom the keys of lines that are new or gone touch.
func (f *Feed) touch(ctx context.Context) error {
	a := f.again
	if len(a.keys) == 0 {
		return nil
	}
	return f.side(ctx, len(a.crowds), func(_, n int) error {
		data, err := a.memory.part(ctx, factsPart, n)
		if err != nil {
			return err
		}
		for ; len(data) >= pairSize; data = data[pairSize:] {
			k := key(binary.LittleEndian.Uint64(data))
			bits := a.keys[k&^roleBits]
			if bits == 0 || k&roleBits != stands && bits&(1<<stands) == 0 {
				continue
			}
			owner := key(binary.LittleEndian.Uint64(data[8:]))
			c := &a.crowds[partOf(uint64(owner), a.memory.Bits)]
			i := c.at(owner)
			if i < 0 {
				return errMemory
			}
			atomic.OrUint32(&c.state[i], isTouched)
		}
		return nil
	})
}

// others are the lines of patients who are remembered and not passed over.
func (a *compared) others() (out []spot, err error) {
	buf := make([]byte, 1<<10*restSize)
	for at, end := int64(0), a.rest.end.Load(); at < end; {
		n, err := a.rest.file.ReadAt(buf[:min(int64(len(buf)), end-at)], at)
		if err != nil && !errors.Is(err, io.EOF) {
			return nil, fmt.Errorf("a temporary file cannot be read back: %w", err)
		}
		at += int64(n)
		for one := buf[:n]; len(one) >= restSize; one = one[restSize:] {
			c := &a.crowds[binary.LittleEndian.Uint32(one)]
			if !c.passed(int(binary.LittleEndian.Uint32(one[4:]))) {
				out = append(out, readSpot(one[8:]))
			}
		}
		if a.much(len(out)) {
			return nil, errMuch
		}
	}
	return out, nil
}
