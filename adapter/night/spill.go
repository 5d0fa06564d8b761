package night

import (
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"slices"
	"sync"
	"sync/atomic"
)

// spill is one temporary file. It holds what patients sent, so its name is
// ours and it is unlinked as soon as it is open where the system allows it:
// nothing is left even of a process that was killed.
type spill struct {
	file *os.File
	root *os.Root
	name string
	left bool // it has still to be removed
	end  atomic.Int64
}

func newSpill(root *os.Root, name string) (*spill, error) {
	file, err := root.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, fmt.Errorf("a temporary file cannot be made: %w", err)
	}
	return &spill{file: file, root: root, name: name, left: root.Remove(name) != nil}, nil
}

func (s *spill) close() error {
	if s == nil {
		return nil
	}
	err := s.file.Close()
	if s.left {
		err = errors.Join(err, s.root.Remove(s.name))
	}
	return err
}

// write appends and gives where.
func (s *spill) write(data []byte) (int64, error) {
	at := s.end.Add(int64(len(data))) - int64(len(data))
	_, err := s.file.WriteAt(data, at)
	return at, err
}

// buckets are many streams in one file: records go to a bucket by a key, and
// a bucket is read whole.
type buckets struct {
	*spill
	list []bucket
	size int // of the buffer of one
}

// bucket is written in blocks, each behind the place and the length of the one
// before it: there are a million of them in a feed of a million patients, and
// what is remembered of each would stay in memory as long as the feed.
type bucket struct {
	mu     sync.Mutex
	buf    []byte // a head and what is not written yet
	last   int64  // the last block
	size   int    // of it without its head; 0: none
	length int    // of all
}

const blockHead = 8 + 4

func newBuckets(root *os.Root, name string, count, size int) (*buckets, error) {
	s, err := newSpill(root, name)
	return &buckets{spill: s, list: make([]bucket, count), size: size}, err
}

// of is the bucket of a key: by its high bits, so that buckets in their order
// are keys in their order, however many there are.
func (b *buckets) of(k key) int {
	return int(uint64(k) >> 32 * uint64(len(b.list)) >> 32)
}

func (b *buckets) add(to int, record []byte) error {
	one := &b.list[to]
	one.mu.Lock()
	defer one.mu.Unlock()
	if len(one.buf)+len(record) > b.size {
		if err := b.flush(one); err != nil {
			return err
		}
	}
	if one.buf == nil {
		one.buf = make([]byte, blockHead, max(b.size, blockHead))
	}
	one.buf = append(one.buf, record...)
	return nil
}

func (b *buckets) flush(one *bucket) error {
	if len(one.buf) <= blockHead {
		return nil
	}
	binary.LittleEndian.PutUint64(one.buf, uint64(one.last))
	binary.LittleEndian.PutUint32(one.buf[8:], uint32(one.size))
	at, err := b.write(one.buf)
	one.last, one.size = at, len(one.buf)-blockHead
	one.length += one.size
	if one.buf = one.buf[:blockHead]; cap(one.buf) > b.size {
		one.buf = nil
	}
	return err
}

// settle writes what is still in memory and lets the buffers go.
func (b *buckets) settle() error {
	for i := range b.list {
		if err := b.flush(&b.list[i]); err != nil {
			return err
		}
		b.list[i].buf = nil
	}
	return nil
}

// length of a bucket that has settled, in bytes.
func (b *buckets) length(of int) int { return b.list[of].length }

// read appends the bucket, which has settled, to a buffer with room for it: the
// last block first, each with its head over the end of the one before.
func (b *buckets) read(of int, into []byte) ([]byte, error) {
	one := &b.list[of]
	end := len(into) + one.length
	into = into[:end]
	var head, under [blockHead]byte
	for at, size := one.last, one.size; size > 0; {
		from := end - size
		var err error
		if from < blockHead {
			_, err = b.file.ReadAt(head[:], at)
			if err == nil {
				_, err = b.file.ReadAt(into[from:end], at+blockHead)
			}
		} else {
			copy(under[:], into[from-blockHead:])
			_, err = b.file.ReadAt(into[from-blockHead:end], at)
			copy(head[:], into[from-blockHead:])
			copy(into[from-blockHead:], under[:])
		}
		if err != nil {
			return nil, fmt.Errorf("a temporary file cannot be read back: %w", err)
		}
		end, at, size = from, int64(binary.LittleEndian.Uint64(head[:])), int(binary.LittleEndian.Uint32(head[8:]))
	}
	return into, nil
}

// whole is read into a buffer of its own.
func (b *buckets) whole(of int) ([]byte, error) {
	return b.read(of, make([]byte, 0, b.length(of)))
}

// journal is a stream of records that are read back one by one, each by the
// place where it was written.
type journal struct {
	*spill
	mu    sync.Mutex
	buf   []byte
	start int64 // of the buffer in the file
}

const journalBuffer = 256 << 10

func newJournal(root *os.Root, name string) (*journal, error) {
	s, err := newSpill(root, name)
	return &journal{spill: s}, err
}

// add appends a record and gives its place.
func (j *journal) add(record []byte) (int64, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	at := j.start + int64(len(j.buf))
	j.buf = binary.LittleEndian.AppendUint32(j.buf, uint32(len(record)))
	j.buf = append(j.buf, record...)
	if len(j.buf) < journalBuffer {
		return at, nil
	}
	return at, j.flush()
}

func (j *journal) flush() error {
	_, err := j.file.WriteAt(j.buf, j.start)
	j.start += int64(len(j.buf))
	j.buf = j.buf[:0]
	return err
}

func (j *journal) settle() error {
	err := j.flush()
	j.buf = nil
	return err
}

// reach gives the end of the file, and writes what is still in memory when a
// place lies there.
func (j *journal) reach(at int64) (end int64, err error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	if at >= j.start {
		err = j.flush()
	}
	return j.start, err
}

// guess is how much is read before the length of a record is known.
const guess = 2 << 10

// read gives the record at a place.
func (j *journal) read(at int64) ([]byte, error) {
	end, err := j.reach(at)
	if err != nil {
		return nil, err
	}
	head := make([]byte, min(guess, end-at))
	if _, err := j.file.ReadAt(head, at); err != nil {
		return nil, fmt.Errorf("a temporary file cannot be read back: %w", err)
	}
	size := int(binary.LittleEndian.Uint32(head))
	if head = head[4:]; size <= len(head) {
		return slices.Clone(head[:size]), nil // most are much shorter than the guess
	}
	record := make([]byte, size)
	if _, err := j.file.ReadAt(record[copy(record, head):], at+4+int64(len(head))); err != nil {
		return nil, fmt.Errorf("a temporary file cannot be read back: %w", err)
	}
	return record, nil
}

// rolls are one stream over several files, so that it can be let go piece by
// piece. A place is the number of the file and, in its lower 32 bits, that in
// the file.
type rolls struct {
	root *os.Root
	name string
	mu   sync.Mutex
	list []*spill // nil: let go
}

// rollSize is how long a file gets before the next is begun, in bytes. A
// variable for tests.
var rollSize int64 = 256 << 20

// write appends and gives where.
func (r *rolls) write(data []byte) (int64, error) {
	r.mu.Lock()
	n := len(r.list)
	if n == 0 || r.list[n-1].end.Load() >= rollSize {
		s, err := newSpill(r.root, fmt.Sprintf("%s-%d", r.name, n))
		if err != nil {
			r.mu.Unlock()
			return 0, err
		}
		r.list = append(r.list, s)
		n++
	}
	s := r.list[n-1]
	r.mu.Unlock()
	at, err := s.write(data)
	return int64(n-1)<<32 | at, err
}

func (r *rolls) read(into []byte, at int64) error {
	if _, err := r.list[at>>32].file.ReadAt(into, at&(1<<32-1)); err != nil {
		return fmt.Errorf("a temporary file cannot be read back: %w", err)
	}
	return nil
}

// drop lets one file go.
func (r *rolls) drop(n int) error {
	s := r.list[n]
	r.list[n] = nil
	return s.close()
}

func (r *rolls) close() error {
	var err error
	for n := range r.list {
		err = errors.Join(err, r.drop(n))
	}
	return err
}
