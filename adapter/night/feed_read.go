package night

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/bits"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"github.com/klauspost/compress/gzip"

	"weir.example/weir/adapter"
	"weir.example/weir/mapping/element"
	"weir.example/weir/mapping/finding"
)

// reading is the pass over all files.
type reading struct {
	*Feed
	list   []adapter.LayoutFile
	chunks chan chunk
	spare  chan []byte
	fail   context.CancelCauseFunc
}

// read passes over every file once: some unpack and cut, some scan.
func (f *Feed) read(ctx context.Context, files fs.FS, list []adapter.LayoutFile) error {
	inner, fail := context.WithCancelCause(ctx)
	defer fail(nil)
	r := &reading{Feed: f, list: list, chunks: make(chan chunk, f.workers), spare: make(chan []byte, 2*f.workers), fail: fail}
	var next atomic.Int64
	var readers, scanners sync.WaitGroup
	for range min(f.workers, len(list)) {
		readers.Go(func() {
			for inner.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= len(list) {
					return
				}
				if err := r.file(inner, files, i); err != nil {
					fail(err)
				}
			}
		})
	}
	newest, sums := make([]time.Time, f.workers), make([]total, f.workers)
	for i := range f.workers {
		scanners.Go(func() {
			w := &worker{reading: r}
			for c := range r.chunks {
				if inner.Err() == nil {
					do := w.chunk
					if f.again != nil {
						do = w.mark
					}
					if err := do(&c); err != nil {
						fail(err)
					}
				}
				select {
				case r.spare <- c.data[:0]:
				default:
				}
			}
			newest[i], sums[i] = w.newest, w.total
		})
	}
	readers.Wait()
	close(r.chunks)
	scanners.Wait()
	if inner.Err() != nil {
		return context.Cause(inner)
	}
	f.newest = slices.MaxFunc(newest, time.Time.Compare)
	var all total
	for _, t := range sums {
		all.add(t)
	}
	f.facts.Sum = all.sum()
	return nil
}

func (r *reading) buffer() []byte {
	select {
	case b := <-r.spare:
		return b
	default:
		return nil
	}
}

// file cuts one file into chunks.
func (r *reading) file(ctx context.Context, files fs.FS, i int) error {
	one := r.list[i]
	stream, err := files.Open(one.Name)
	if err != nil {
		return err
	}
	defer stream.Close()
	c := chunker{file: i, buffer: r.buffer, give: func(c chunk) error {
		select {
		case r.chunks <- c:
			return nil
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}}
	if !one.Packed {
		if err = c.run(ctx, stream); err != nil && ctx.Err() == nil {
			err = fmt.Errorf("%s cannot be read on behind line %d: %w", one.Name, c.line, err)
		}
		return err
	}
	source := &faithful{Reader: stream}
	in, err := gzip.NewReader(source)
	if err == nil {
		err = c.run(ctx, in)
	}
	switch {
	case err == nil, ctx.Err() != nil:
		return err
	case source.err != nil:
		return fmt.Errorf("%s cannot be read on behind line %d: %w", one.Name, c.line, source.err)
	}
	return r.broken(i, c.line+1)
}

// faithful remembers that it was the file system that failed, and not the
// sender's compression.
type faithful struct {
	io.Reader
	err error
}

func (f *faithful) Read(p []byte) (int, error) {
	n, err := f.Reader.Read(p)
	if err != nil && !errors.Is(err, io.EOF) {
		f.err = err
	}
	return n, err
}

// broken is a compressed file that ends or fails inside.
func (r *reading) broken(file, line int) error {
	one := r.list[file]
	r.mu.Lock()
	facts := &r.facts.Files[file]
	facts.Lines, facts.Failed, facts.Truncated = facts.Lines+1, facts.Failed+1, true
	r.facts.Nobodys++
	r.mu.Unlock()
	return r.failures.note(Failed{one.Name, line, []finding.Finding{{Code: "document-json",
		Place: finding.Place{Expression: one.Type, Line: line, Column: 1}, Observed: "a compressed file that is broken from here on", Expected: "a whole gzip file",
		Detail: "the compressed file cannot be unpacked to its end", Remedy: "Send the file again, whole."}}})
}

// worker scans chunks.
type worker struct {
	*reading
	scanner
	facts  facts
	record record
	buf    []byte
	points []byte
	pair   []byte
	seen   [seenOwners]key // owners that were noted lately
	newest time.Time
	said   []byte // the lastUpdated read last
	saidAt int64  // in microseconds of Unix time, 0 for none
	now    int64  // that of the line
	total  total
	text   []byte   // a line that was put aside
	fresh  bool     // the last feed did not have the line
	noted  []key    // keys of such lines, with their class
	nobody []nobody // what is nobody's, when lines are scanned again
}

// total adds the sums of lines, as numbers of 256 bits, so that their order
// does not count.
type total [4]uint64

func (t *total) add(x total) {
	carry := uint64(0)
	for i := range t {
		t[i], carry = bits.Add64(t[i], x[i], carry)
	}
}

func (t *total) line(sum [32]byte) {
	var x total
	for i := range x {
		x[i] = binary.LittleEndian.Uint64(sum[8*i:])
	}
	t.add(x)
}

func (t *total) sum() [32]byte {
	var out []byte
	for _, x := range t {
		out = binary.LittleEndian.AppendUint64(out, x)
	}
	return sha256.Sum256(out)
}

const seenOwners = 1 << 14

// counted is what some lines of a file add to its facts.
type counted struct {
	lines, owned, failed, nobodys int
	truncated                     bool
}

// count notes what became of one line.
func (w *worker) count(n *counted, file, number int, open bool, faults []finding.Finding) error {
	if w.facts.owned {
		n.owned++
	}
	if n.lines++; len(faults) == 0 {
		return nil
	}
	n.failed++
	n.truncated = n.truncated || open
	if !w.facts.owned {
		n.nobodys++
	}
	return w.failures.note(Failed{w.list[file].Name, number, faults})
}

// add adds it to the facts.
func (w *worker) add(file int, n counted) {
	w.mu.Lock()
	defer w.mu.Unlock()
	all := &w.reading.Feed.facts
	one := &all.Files[file]
	one.Lines, one.Failed, one.Truncated = one.Lines+n.lines, one.Failed+n.failed, one.Truncated || n.truncated
	all.Nobodys += n.nobodys
	all.Owned += n.owned
}

func (w *worker) chunk(c *chunk) error {
	var n counted
	err := c.each(func(line []byte, number int, open bool) error {
		faults, err := w.line(line, number, c.file)
		return errors.Join(err, w.count(&n, c.file, number, open, faults))
	})
	if c.size > 0 {
		w.facts = facts{}
		err = w.count(&n, c.file, c.first, c.open, []finding.Finding{element.Overlong(c.size, c.first)})
	}
	w.add(c.file, n)
	return err
}

// line scans one line and puts it aside.
func (w *worker) line(line []byte, number, file int) ([]finding.Finding, error) {
	sum := sha256.Sum256(line)
	w.total.line(sum)
	if len(line) > element.MostLine {
		w.facts = facts{}
		return []finding.Finding{element.Overlong(len(line), number)}, nil
	}
	return w.put(line, sum, number, file)
}

func (w *worker) put(line []byte, sum [32]byte, number, file int) ([]finding.Finding, error) {
	f := &w.facts
	faults := w.take(line, number, w.list[file].Type, f)
	if !f.failed {
		w.updated(f.updated)
	} else {
		w.now = 0
	}
	if f.failed && !f.owned {
		return faults, nil
	}
	r := &w.record
	*r = record{failed: f.failed, file: uint32(file), line: uint32(number), sum: sum, updated: w.now, kind: f.kind, id: f.id}
	if !f.failed {
		r.data = line
	}
	if f.owned {
		r.text, r.owner = f.owner, keyOf(f.owner[0], f.owner[2:])
	}
	slices.Sort(f.points)
	f.points = slices.Compact(f.points)
	w.points = w.points[:0]
	for _, p := range f.points {
		if p != r.owner && !f.failed {
			w.points = binary.LittleEndian.AppendUint64(w.points, uint64(p))
		}
	}
	r.points = w.points
	w.buf = r.append(w.buf[:0])
	if w.fresh {
		w.note(r, f)
	}
	if f.owned {
		return faults, errors.Join(w.lines.add(w.lines.of(r.owner), w.buf), w.known(r, f))
	}
	return faults, w.nobodys(r, f)
}

// updated keeps the newest meta.lastUpdated.
func (w *worker) updated(text []byte) {
	if w.now = 0; len(text) == 0 {
		return
	}
	if bytes.Equal(text, w.said) {
		w.now = w.saidAt
		return
	}
	w.said, w.saidAt = append(w.said[:0], text...), 0
	if t, err := time.Parse(time.RFC3339Nano, string(text)); err == nil {
		if w.saidAt = t.UnixMicro(); time.UnixMicro(w.saidAt).After(w.newest) {
			w.newest = time.UnixMicro(w.saidAt)
		}
	}
	w.now = w.saidAt
}
