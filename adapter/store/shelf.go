package store

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"maps"
	"slices"
	"strings"
	"time"

	"weir.example/weir/adapter"
)

// One order gives about a hundred small resources that are much alike, and
// each would be rows of its own in five indexes, most of them at a random
// place. So resources are kept many to a row: a shelf holds what was made for
// one order, or what was received of one patient, and the values that they
// are found by. A row of search_value says of one value which slots of which
// shelf have it, as bits; with these a search is decided, and only shelves on
// the page are opened. A resource never leaves its slot.

// member is the current version of one resource.
type member struct {
	typ, id          string
	version          int64
	created, updated int64
	source           string
	json             []byte
}

func (m member) name() string { return m.typ + "/" + m.id }

func (m member) resource(patient string) adapter.Resource {
	return adapter.Resource{Type: m.typ, ID: m.id, Version: m.version, Created: instant(m.created), Updated: instant(m.updated), Patient: patient, Source: m.source, JSON: m.json}
}

// resource copies the content, so that the rest of the shelf is let go.
func (s *shelf) resource(slot int) adapter.Resource {
	out := s.members[slot].resource(s.patient)
	out.JSON = slices.Clone(out.JSON)
	return out
}

// sought is one value that resources of a type are found by. A span has an
// empty text; a text has a span of 0 to 0.
type sought struct {
	typ, name, text string
	low, high       int64
	system          string
}

func compareSought(a, b sought) int {
	return cmp.Or(cmp.Compare(a.typ, b.typ), cmp.Compare(a.name, b.name), cmp.Compare(a.text, b.text), cmp.Compare(a.low, b.low), cmp.Compare(a.high, b.high), cmp.Compare(a.system, b.system))
}

// brief is a number that stands for a text in the rows of search_value: of a
// type with a parameter, and of a system, there are few, and they are long. No
// text, no number. Another text of the same number is as likely as a file of
// another content with the same hash.
func brief(texts ...string) int64 {
	whole := strings.Join(texts, "\x00")
	if whole == "" {
		return 0
	}
	sum := sha256.Sum256([]byte(whole))
	return int64(binary.BigEndian.Uint64(sum[:8])>>1 | 1<<62)
}

// row is where a value stands in search_value, but for the shelf.
func (v sought) row() (param int64, text string, low, high, system int64) {
	return brief(v.typ, v.name), v.text, v.low, v.high, brief(v.system)
}

// shelf is a row of shelf, opened. Number and version are 0 while it is new.
type shelf struct {
	number, version int64
	patient, label  string
	part            int64
	members         []member
	values          map[sought]bits
	size            int // of all content
}

// Names of values that are the store's own.
const (
	anything = ""             // every resource of the type
	written  = "_lastUpdated" // its time, a microsecond long
	itself   = "_own"         // its own id, as a URI, is an identifier of it: see own.go
)

// A shelf takes no more than so many resources or bytes: the next begins.
const (
	mostOnShelf  = 240
	fullAtOctets = 1 << 20
)

func (s *shelf) full() bool { return len(s.members) >= mostOnShelf || s.size >= fullAtOctets }

func (s *shelf) slot(typ, id string) int {
	return slices.IndexFunc(s.members, func(m member) bool { return m.id == id && m.typ == typ })
}

// put writes a resource into a slot; a slot beyond the last is a new one.
func (s *shelf) put(slot int, r adapter.Resource, created time.Time) {
	if slot == len(s.members) {
		s.members = append(s.members, member{typ: r.Type, id: r.ID, created: micros(created)})
	} else {
		s.forget(r.Type, slot)
	}
	m := &s.members[slot]
	s.size += len(r.JSON) - len(m.json)
	m.version, m.updated, m.source, m.json = r.Version, micros(r.Updated), r.Source, r.JSON
	for _, v := range r.Values {
		one := sought{r.Type, v.Name, v.Text, micros(v.Low), micros(v.High), v.System}
		s.values[one] = s.values[one].with(slot)
	}
	if hasOwn(r) {
		own := sought{typ: r.Type, name: itself}
		s.values[own] = s.values[own].with(slot)
	}
}

// forget takes away what the resource in a slot is found by.
func (s *shelf) forget(typ string, slot int) {
	for v, b := range s.values {
		if v.typ != typ || !b.has(slot) {
			continue
		}
		if b = b.without(slot); len(b) == 0 {
			delete(s.values, v)
		} else {
			s.values[v] = b
		}
	}
}

// inside is the span of a row that stands for values that name resources of
// the same shelf, or its patient: there are as many of them as there are
// resources, each at a place of its own, and who looks for one finds the
// shelves by its name. The bits say who has such a value.
const insideLow, insideHigh = 1, 0

// rows are the rows of search_value that the shelf has.
func (s *shelf) rows() map[sought]bits {
	out := make(map[sought]bits, len(s.values)+40)
	here := make(map[string]bool, len(s.members)+1)
	if s.patient != "" {
		here["Patient/"+s.patient] = true
	}
	for i, m := range s.members {
		here[m.name()] = true
		all, at := sought{typ: m.typ, name: anything}, sought{typ: m.typ, name: written, low: m.updated, high: m.updated + 1}
		out[all], out[at] = out[all].with(i), out[at].with(i)
	}
	for v, b := range s.values {
		if v.low == 0 && v.high == 0 && v.system == "" && here[v.text] {
			v = sought{typ: v.typ, name: v.name, low: insideLow, high: insideHigh}
			b = out[v].or(b)
		}
		out[v] = b
	}
	return out
}

// updated is when anything of the shelf was written last.
func (s *shelf) updated() int64 {
	at := int64(0)
	for _, m := range s.members {
		at = max(at, m.updated)
	}
	return at
}

const shelfForm = 1

// encode gives members and values as they are stored, compressed.
func (s *shelf) encode() []byte {
	b := make([]byte, 0, s.size+len(s.members)*100+len(s.values)*80+16)
	text := func(t string) {
		b = binary.AppendUvarint(b, uint64(len(t)))
		b = append(b, t...)
	}
	b = binary.AppendUvarint(b, shelfForm)
	b = binary.AppendUvarint(b, uint64(len(s.members)))
	for _, m := range s.members {
		text(m.typ)
		text(m.id)
		text(m.source)
		for _, n := range []int64{m.version, m.created, m.updated, int64(len(m.json))} {
			b = binary.AppendVarint(b, n)
		}
	}
	for _, m := range s.members {
		b = append(b, m.json...)
	}
	b = binary.AppendUvarint(b, uint64(len(s.values)))
	for _, v := range slices.SortedFunc(maps.Keys(s.values), compareSought) {
		for _, t := range []string{v.typ, v.name, v.text, v.system, string(s.values[v])} {
			text(t)
		}
		b = binary.AppendVarint(binary.AppendVarint(b, v.low), v.high)
	}
	return squeeze(b)
}

var errShelf = errors.New("a shelf that cannot be read")

// decode reads what encode gave; the rest of the shelf stays as it is.
func (s *shelf) decode(data []byte) error {
	data, err := unsqueeze(data)
	if err != nil {
		return err
	}
	r := &frame{rest: data}
	if r.unsigned() != shelfForm {
		return errShelf
	}
	sizes := []int64{}
	for range r.count() {
		m := member{typ: r.text(), id: r.text(), source: r.text(), version: r.signed(), created: r.signed(), updated: r.signed()}
		s.members, sizes = append(s.members, m), append(sizes, r.signed())
	}
	for i, n := range sizes {
		s.members[i].json = r.take(uint64(n))
		s.size += int(n)
	}
	n := r.count()
	s.values = make(map[sought]bits, n)
	for range n {
		v := sought{typ: r.text(), name: r.text(), text: r.text(), system: r.text()}
		b := bits(r.text())
		v.low, v.high = r.signed(), r.signed()
		s.values[v] = b
	}
	if r.bad || len(r.rest) > 0 {
		return errShelf
	}
	return nil
}

// frame reads what was written one after the other. What is cut off reads as
// nothing and is bad.
type frame struct {
	rest []byte
	bad  bool
}

func (f *frame) unsigned() uint64 {
	n, size := binary.Uvarint(f.rest)
	return moved(f, n, size)
}

func (f *frame) signed() int64 {
	n, size := binary.Varint(f.rest)
	return moved(f, n, size)
}

func moved[N int64 | uint64](f *frame, n N, size int) N {
	if size <= 0 {
		f.bad, f.rest = true, nil
		return 0
	}
	f.rest = f.rest[size:]
	return n
}

// count is a number of things that each take a byte or more.
func (f *frame) count() uint64 {
	n := f.unsigned()
	if n > uint64(len(f.rest)) {
		f.bad = true
		return 0
	}
	return n
}

func (f *frame) take(n uint64) []byte {
	if n > uint64(len(f.rest)) {
		f.bad, n = true, 0
	}
	out := f.rest[:n:n]
	f.rest = f.rest[n:]
	return out
}

func (f *frame) text() string { return string(f.take(f.unsigned())) }
