package night

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"slices"
	"sync"
	"sync/atomic"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// compared is a feed that is compared with what is remembered of the last one.
// Its lines are put aside as they are, each with its mark; which of them are
// scanned is known when all have been seen.
//
// Whom a line counts for is a matter of keys alone. A key of which every line
// is as it was unites the same patients as it did, so only the keys of lines
// that are new or gone are looked at: whoever has one of them in such a way
// that it could unite him is read in full, with all others who have it, and so
// is whoever has another line than before. Everything that is nobody's is
// always scanned. A patient who is left has the same lines, and leads to the
// same of what is nobody's, as last time.
type compared struct {
	memory *memory
	list   []adapter.LayoutFile
	base   Facts                 // before anything was scanned
	raw    *rolls                // the text
	chunks []piece               // of it
	marks  *buckets              // of all lines
	ahead  *journal              // what the record has of patients who may be passed over
	crowds []crowd               // a part each
	rest   *spill                // lines of patients who are remembered: part, number in it, spot
	late   []func(*worker) error // failures that have no text
	mu     sync.Mutex
	keys   map[key]uint8 // of lines that are new or gone, as bits of classes
	nobody []nobody
	lines  int
	off    bool // all lines are scanned
	broken bool // the memory is damaged
	failed int  // failures before anything was scanned
}

// piece is a chunk where it was put aside.
type piece struct {
	at               int64
	size, file, from int
	open             bool
}

// spot is where a line is in the text that was put aside.
type spot struct {
	at           int64
	size, number uint32
	file         uint32 // with openLine
}

// openLine says of a line that it has no end.
const openLine = 1 << 31

const spotSize = 20

func (s spot) append(to []byte) []byte {
	to = binary.LittleEndian.AppendUint64(to, uint64(s.at))
	to = binary.LittleEndian.AppendUint32(to, s.size)
	to = binary.LittleEndian.AppendUint32(to, s.number)
	return binary.LittleEndian.AppendUint32(to, s.file)
}

func readSpot(in []byte) spot {
	return spot{int64(binary.LittleEndian.Uint64(in)), binary.LittleEndian.Uint32(in[8:]), binary.LittleEndian.Uint32(in[12:]), binary.LittleEndian.Uint32(in[16:])}
}

const markSize, restSize = 16 + spotSize, 8 + spotSize

// markBuffers are the buffers of all marks together, in bytes.
const markBuffers = 16 << 20

// remembering begins to learn what the next night wants to know, and to
// compare with what the last one left.
func (f *Feed) remembering(ctx context.Context, record adapter.Feeds, list []adapter.LayoutFile) error {
	if record == nil {
		return nil
	}
	m, err := readMemory(ctx, record)
	if err != nil {
		return err
	}
	if f.learned, err = newLearned(f.root, m); err != nil || m == nil {
		return err
	}
	a := &compared{memory: m, list: list, keys: map[key]uint8{}, crowds: make([]crowd, m.parts())}
	f.again = a
	var bad [3]error
	a.raw = &rolls{root: f.root, name: "text"}
	a.rest, bad[0] = newSpill(f.root, "rest")
	a.marks, bad[1] = newBuckets(f.root, "marks", m.parts(), min(max(markBuffers/m.parts(), 4<<10), 64<<10))
	a.ahead, bad[2] = newJournal(f.root, "ahead")
	return errors.Join(bad[:]...)
}

func (a *compared) close() error {
	if a == nil {
		return nil
	}
	err := errors.Join(a.raw.close(), a.rest.close(), closed(a.ahead))
	if a.marks != nil {
		err = errors.Join(err, a.marks.close())
	}
	return err
}

// mark puts the lines of a chunk aside.
func (w *worker) mark(c *chunk) error {
	a, lines := w.again, 0
	at, err := a.raw.write(c.data)
	if err != nil {
		return err
	}
	kind, whole := kindKey(w.list[c.file].Type), cap(c.data)
	err = c.each(func(line []byte, number int, open bool) error {
		lines++
		sum := sha256.Sum256(line)
		w.total.line(sum)
		if len(line) > element.MostLine {
			a.tooLong(c.file, number, len(line), open)
			return nil
		}
		s := spot{at: at + int64(whole-cap(line)), size: uint32(len(line)), number: uint32(number), file: uint32(c.file)}
		if open {
			s.file |= openLine
		}
		m := markOf(sum, kind)
		w.buf = s.append(m.append(w.buf[:0]))
		return a.marks.add(partOf(m.hi, a.memory.Bits), w.buf)
	})
	if c.size > 0 {
		lines++
		a.tooLong(c.file, c.first, c.size, c.open)
	}
	a.mu.Lock()
	a.chunks = append(a.chunks, piece{at, len(c.data), c.file, c.first, c.open})
	a.lines += lines
	a.mu.Unlock()
	w.add(c.file, counted{lines: lines})
	return err
}

// tooLong notes a line that is too long to be kept.
func (a *compared) tooLong(file, number, size int, open bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.late = append(a.late, func(w *worker) error {
		n := counted{lines: -1} // it was counted when it was seen
		w.facts = facts{}
		err := w.count(&n, file, number, open, []finding.Finding{element.Overlong(size, number)})
		w.add(file, n)
		return err
	})
}

// side does some numbered things on the workers, until one fails.
func (f *Feed) side(ctx context.Context, count int, do func(worker, n int) error) error {
	var next atomic.Int64
	var group sync.WaitGroup
	inner, fail := context.WithCancelCause(ctx)
	defer fail(nil)
	for i := range f.workers {
		group.Go(func() {
			for inner.Err() == nil {
				n := int(next.Add(1)) - 1
				if n >= count {
					return
				}
				if err := do(i, n); err != nil {
					fail(err)
				}
			}
		})
	}
	group.Wait()
	return context.Cause(inner)
}

// scanners are workers that read what was put aside.
func (f *Feed) scanners(fresh bool) []*worker {
	var out []*worker
	for range f.workers {
		out = append(out, &worker{reading: &reading{Feed: f, list: f.again.list}, fresh: fresh})
	}
	return out
}

// gather takes what they found out.
func (f *Feed) gather(workers []*worker) {
	for _, w := range workers {
		if w.newest.After(f.newest) {
			f.newest = w.newest
		}
		for _, k := range w.noted {
			f.again.keys[k&^roleBits] |= 1 << (k & roleBits)
		}
		f.again.nobody = append(f.again.nobody, w.nobody...)
	}
}

// takenTogether is how many lines that were put aside a worker reads at once.
const takenTogether = 256

// scan reads lines that were put aside as Open reads all. The keys of fresh
// ones are noted.
func (f *Feed) scan(ctx context.Context, list []spot, fresh bool) error {
	slices.SortFunc(list, func(a, b spot) int { return int(a.at - b.at) })
	workers := f.scanners(fresh)
	err := f.side(ctx, (len(list)+takenTogether-1)/takenTogether, func(n, from int) error {
		w := workers[n]
		for _, s := range list[from*takenTogether : min(len(list), (from+1)*takenTogether)] {
			if cap(w.text) < int(s.size) {
				w.text = make([]byte, s.size, 2*s.size)
			}
			line := w.text[:s.size]
			if err := f.again.raw.read(line, s.at); err != nil {
				return err
			}
			if err := w.reread(line, int(s.number), int(s.file&^openLine), s.file&openLine != 0); err != nil {
				return err
			}
		}
		return nil
	})
	f.gather(workers)
	return err
}

// reread reads one line that was counted when it was seen.
func (w *worker) reread(line []byte, number, file int, open bool) error {
	n := counted{lines: -1}
	faults, err := w.put(line, sha256.Sum256(line), number, file)
	err = errors.Join(err, w.count(&n, file, number, open, faults))
	w.add(file, n)
	return err
}

// everything scans all lines, whatever was scanned before.
func (f *Feed) everything(ctx context.Context) error {
	a := f.again
	a.off, a.nobody = true, nil
	f.facts = a.base.clone()
	f.failures.list = f.failures.list[:a.failed]
	if err := errors.Join(f.shut(), f.tables(), f.learned.empty()); err != nil {
		return err
	}
	workers := f.scanners(false)
	for _, do := range a.late {
		if err := do(workers[0]); err != nil {
			return err
		}
	}
	slices.SortFunc(a.chunks, func(x, y piece) int { return cmp.Compare(x.at, y.at) })
	for n := range a.raw.list {
		count, _ := slices.BinarySearchFunc(a.chunks, int64(n+1)<<32, func(p piece, at int64) int { return cmp.Compare(p.at, at) })
		if err := f.side(ctx, count, func(k, i int) error { return workers[k].piece(a.chunks[i]) }); err != nil {
			return err
		}
		a.chunks = a.chunks[count:]
		if err := a.raw.drop(n); err != nil { // all of it together would need as much again as is written now
			return err
		}
	}
	f.gather(workers)
	return nil
}

// piece scans a chunk that was put aside.
func (w *worker) piece(p piece) error {
	c := chunk{file: p.file, first: p.from, data: make([]byte, p.size), open: p.open}
	if err := w.again.raw.read(c.data, p.at); err != nil {
		return err
	}
	return c.each(func(line []byte, number int, open bool) error {
		if len(line) > element.MostLine {
			return nil // it is among those that came late
		}
		return w.reread(line, number, p.file, open)
	})
}
