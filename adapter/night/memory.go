package night

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"slices"

	"weir.example/weir/adapter"
	"weir.example/weir/conformance"
)

// What a night remembers of its feed, so that the next one need not read a
// line again that is where it was: of each patient who could be passed over
// the sums of his lines, and the keys by which a line of another could touch
// him; of what is nobody's the sums and keys. There is no text in it. It is
// cut into parts by the high bits of sums, keys and patients; each part has
// its sum in the head, and the head its own. What is not whole, or was made
// by another program, is as good as none: then all is read.

// The kinds of parts. Each is sorted.
const (
	headPart   = "head"
	linesPart  = "lines"  // mark 16, owner 8
	factsPart  = "facts"  // key and class 8, owner 8
	groupsPart = "groups" // see remembered
	sharedPart = "shared" // mark 16, count, keys and classes 8 each
)

var memoryKinds = []string{linesPart, factsPart, groupsPart, sharedPart}

// memoryFormat changes with what stands in the parts, and with what the
// scanner takes from a line.
const memoryFormat = 1

// errMemory is a memory that is damaged: all is read then.
var errMemory = errors.New("night: what is remembered of the last feed is not whole")

type memory struct {
	Format  int               `json:"format"`
	Program string            `json:"program"`
	Bits    int               `json:"bits"` // there are 1<<Bits parts of each kind
	Sums    map[string][]byte `json:"sums"` // of each kind, SHA-256 one behind the other

	record adapter.Feeds
}

// mostBits bounds the parts: 4096 of each kind.
const mostBits = 12

// readMemory gives nil when there is none that can be used. An error is the
// store's.
func readMemory(ctx context.Context, record adapter.Feeds) (*memory, error) {
	body, err := record.Remembered(ctx, headPart, 0)
	if err != nil || len(body) < sha256.Size {
		return nil, err
	}
	m := &memory{record: record}
	if sha256.Sum256(body[sha256.Size:]) != [32]byte(body) || json.Unmarshal(body[sha256.Size:], m) != nil {
		return nil, nil
	}
	if m.Format != memoryFormat || m.Program != conformance.Program() || m.Bits < 0 || m.Bits > mostBits {
		return nil, nil
	}
	for _, kind := range memoryKinds {
		if len(m.Sums[kind]) != sha256.Size<<m.Bits {
			return nil, nil
		}
	}
	return m, nil
}

func (m *memory) head() adapter.MemoryPart {
	text, err := json.Marshal(m)
	if err != nil {
		panic(err) // plain values
	}
	sum := sha256.Sum256(text)
	return adapter.MemoryPart{Kind: headPart, Body: append(sum[:], text...)}
}

func (m *memory) parts() int { return 1 << m.Bits }

func (m *memory) sum(kind string, n int) []byte {
	return m.Sums[kind][n*sha256.Size : (n+1)*sha256.Size]
}

// part reads one part; errMemory when it is not what was written.
func (m *memory) part(ctx context.Context, kind string, n int) ([]byte, error) {
	body, err := m.record.Remembered(ctx, kind, n)
	if err != nil {
		return nil, err
	}
	if sum := sha256.Sum256(body); !bytes.Equal(sum[:], m.sum(kind, n)) {
		return nil, errMemory
	}
	return body, nil
}

// partOf is the part in which a number stands.
func partOf(x uint64, bits int) int { return int(x >> (64 - bits)) }

// mark is the sum of a line, cut to 128 bits, with the type that its file is
// named after: the same line in a file of another type is another.
type mark struct{ hi, lo uint64 }

func markOf(sum [32]byte, kind key) mark {
	return mark{binary.LittleEndian.Uint64(sum[:]) ^ uint64(kind), binary.LittleEndian.Uint64(sum[8:])}
}

func kindKey(kind string) key { return keyOf('t', []byte(kind)) }

func (m mark) compare(o mark) int { return comparePairs(pair{m.hi, m.lo}, pair{o.hi, o.lo}) }

func (m mark) append(to []byte) []byte { return appendPair(to, pair{m.hi, m.lo}) }

func readMark(in []byte) mark {
	return mark{binary.LittleEndian.Uint64(in), binary.LittleEndian.Uint64(in[8:])}
}

const lineSize = 24 // of an entry of linesPart

// remembered is a patient as groupsPart has him.
type remembered struct {
	owner  key
	count  uint32 // lines of his own
	held   uint32 // bytes of all lines that he is read with
	newest int64  // meta.lastUpdated of his lines, in microseconds of Unix time; 0 for none
	sum    [32]byte
}

const groupSize = 56

func (r *remembered) append(to []byte) []byte {
	to = binary.LittleEndian.AppendUint64(to, uint64(r.owner))
	to = binary.LittleEndian.AppendUint32(to, r.count)
	to = binary.LittleEndian.AppendUint32(to, r.held)
	to = binary.LittleEndian.AppendUint64(to, uint64(r.newest))
	return append(to, r.sum[:]...)
}

func readRemembered(in []byte) remembered {
	return remembered{key(binary.LittleEndian.Uint64(in)), binary.LittleEndian.Uint32(in[8:]), binary.LittleEndian.Uint32(in[12:]),
		int64(binary.LittleEndian.Uint64(in[16:])), [32]byte(in[24:groupSize])}
}

// class is what a key is to a patient, as far as a line of another can touch
// him by it. A standing key is touched by anything; one that is pointed to, or
// a name, only by one that stands.
type class = key

const (
	stands class = iota // defines, ties, carries; of what is nobody's, that it is found by it
	pointed
	called
)

func classOf(role key) class {
	switch role {
	case named:
		return called
	case points, witnessed:
		return pointed
	}
	return stands
}

// place is where a patient stands in the order of a feed, for the store: a
// key without its lowest bit, which is free.
func (k key) place() int64 { return int64(k >> 1) }

// standing is the place of a patient by the key of his group. Where a name of
// another kind begins like one, it is no place, and he is not passed over.
func standing(name string) int64 {
	if len(name) > 2 && name[1] == ':' && bytes.IndexByte([]byte("ind"), name[0]) >= 0 {
		return textKey(name).place()
	}
	return keyOf('r', []byte(name)).place()
}

// crowd are the patients of one part, by owner.
type crowd struct {
	owners []key
	want   []uint32 // lines of each
	got    []uint32 // of them found tonight; atomic
	state  []uint32 // atomic
	said   int64    // where it stands what is said of those who may be passed over
}

// What is known of a patient tonight.
const (
	staysOver = 1 << iota // by the record he may be passed over
	isTouched             // a line that is new or gone counts for him
)

// at finds a patient, -1 when he is not there.
func (c *crowd) at(owner key) int {
	i, found := slices.BinarySearch(c.owners, owner)
	if !found {
		return -1
	}
	return i
}

// passed reports whether everything of a patient is as it was.
func (c *crowd) passed(i int) bool { return c.state[i] == staysOver && c.got[i] == c.want[i] }
