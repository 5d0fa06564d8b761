package night

import (
	"encoding/binary"
)

// record is a line as it lies in a temporary file.
type record struct {
	owner      key // 0 when it is nobody's
	failed     bool
	file, line uint32
	sum        [32]byte
	updated    int64 // meta.lastUpdated in microseconds of Unix time, 0 for none
	kind, id   []byte
	text       []byte // of the owner
	points     []byte // keys, 8 bytes each
	data       []byte // nil of one that failed
}

// append writes the record behind its length.
func (r *record) append(to []byte) []byte {
	begin := len(to)
	to = append(to, 0, 0, 0, 0)
	to = binary.LittleEndian.AppendUint64(to, uint64(r.owner))
	flags := byte(0)
	if r.failed {
		flags = 1
	}
	to = append(to, flags)
	to = binary.LittleEndian.AppendUint32(to, r.file)
	to = binary.LittleEndian.AppendUint32(to, r.line)
	to = append(to, r.sum[:]...)
	to = binary.LittleEndian.AppendUint64(to, uint64(r.updated))
	for _, part := range [][]byte{r.kind, r.id, r.text, r.points, r.data} {
		to = binary.AppendUvarint(to, uint64(len(part)))
		to = append(to, part...)
	}
	binary.LittleEndian.PutUint32(to[begin:], uint32(len(to)-begin-4))
	return to
}

// readRecord reads what append wrote, and gives the rest. The record's parts
// are parts of the input.
func readRecord(in []byte) (r record, whole, rest []byte) {
	size := int(binary.LittleEndian.Uint32(in))
	whole, rest = in[:4+size], in[4+size:]
	return recordOf(whole[4:]), whole, rest
}

func recordOf(in []byte) record {
	r := record{owner: key(binary.LittleEndian.Uint64(in)), failed: in[8] == 1,
		file: binary.LittleEndian.Uint32(in[9:]), line: binary.LittleEndian.Uint32(in[13:])}
	copy(r.sum[:], in[17:49])
	r.updated = int64(binary.LittleEndian.Uint64(in[49:]))
	in = in[57:]
	for _, part := range []*[]byte{&r.kind, &r.id, &r.text, &r.points, &r.data} {
		n, width := binary.Uvarint(in)
		*part = in[width : width+int(n) : width+int(n)]
		in = in[width+int(n):]
	}
	return r
}

// eachPoint gives the keys of what the line refers to.
func (r *record) eachPoint(do func(key) error) error {
	for p := r.points; len(p) >= 8; p = p[8:] {
		if err := do(key(binary.LittleEndian.Uint64(p))); err != nil {
			return err
		}
	}
	return nil
}

// pair is two numbers side by side in a bucket: a fact, a place in the index
// of what is nobody's, or a witness.
type pair struct{ a, b uint64 }

func appendPair(to []byte, p pair) []byte {
	return binary.LittleEndian.AppendUint64(binary.LittleEndian.AppendUint64(to, p.a), p.b)
}

const pairSize = 16

// pairsOf reads all pairs of a bucket.
func pairsOf(b *buckets, of int, into []pair) ([]pair, error) {
	data, err := b.whole(of)
	for ; len(data) >= pairSize; data = data[pairSize:] {
		into = append(into, pair{binary.LittleEndian.Uint64(data), binary.LittleEndian.Uint64(data[8:])})
	}
	return into, err
}
